import type { CatalogueItem, SignOffInput } from '../../api/operations.ts';
import { cellOf, type Draft, isTyped, type PlaceEntry, type Point } from './draft.ts';
import { isMeasurable, readTyped, type TypedFault } from './read-typed.ts';

type Check = SignOffInput['checks'][number];
export type Items = ReadonlyMap<string, CatalogueItem>;

export interface BuiltChecks {
  checks: readonly Check[];
  /** the place of each check, by its index: the server names faults by index */
  cells: readonly string[];
  faults: readonly { cell: string; fault: TypedFault }[];
}

/**
 * The checks of a sign-off from what was entered, in the order of the points. A place that was measured and marked has
 * two checks. What does not apply was not looked at, and is not sent.
 */
export function buildChecks({ claim, places }: Draft, items: Items): BuiltChecks {
  const checks: Check[] = [];
  const cells: string[] = [];
  const faults: { cell: string; fault: TypedFault }[] = [];
  for (const point of claim.pointsToCheck) {
    const cell = cellOf(point);
    const read = checksAt(point, places[cell] ?? {}, items.get(point.item));
    if (!Array.isArray(read)) faults.push({ cell, fault: read });
    else {
      checks.push(...read);
      cells.push(...read.map(() => cell));
    }
  }
  return { checks, cells, faults };
}

function checksAt(point: Point, entry: PlaceEntry, item: CatalogueItem | undefined): Check[] | TypedFault {
  const place = point.position === undefined ? { item: point.item } : { item: point.item, position: point.position };
  const found: Check[] = [];
  if (item !== undefined && isTyped(entry) && isMeasurable(item, point.position)) {
    const read = readTyped(item, entry.typed ?? {});
    if (!read.ok) return read.fault;
    found.push({ ...place, value: read.value });
  }
  if (entry.mark === 'ok' || entry.mark === 'not-ok') found.push({ ...place, result: entry.mark });
  return withNote(found, entry.note);
}

/** A note belongs to the first check of its place; spaces as the server wants them. */
function withNote(found: Check[], typed = ''): Check[] {
  const note = typed.trim().replace(/\s+/g, ' ');
  const [first, ...others] = found;
  return first === undefined || note === '' ? found : [{ ...first, note }, ...others];
}
