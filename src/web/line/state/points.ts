import { isNear } from '../../../domain/catalogue/item.ts';
import type { CatalogueItem, SignOffInput } from '../../api/operations.ts';
import { cellOf, type Worksheet, isLookedAt, isTyped, type PlaceEntry, type Point } from './worksheet.ts';
import { isMeasurable, readTyped, readWithOf, type TypedFault } from './read-typed.ts';

/** The places of one item, looked at together. */
export interface PointGroup {
  id: string;
  item: string;
  label: string;
  catalogue: CatalogueItem | undefined;
  /** why it is on the list, each reason once; empty for what is looked at on every car */
  why: readonly string[];
  points: readonly Point[];
}

export interface PointSections {
  /** what the group looks at on every car: one group for each point of the rules, with its items as places */
  always: readonly PointGroup[];
  /** what rules and symptoms ask for, the most urgent first */
  first: readonly PointGroup[];
  /** everything else, by area, in the order of a walk around the car */
  usual: readonly { area: string; groups: readonly PointGroup[] }[];
}

/** Sorts the points of a claim into what to look at first and the rest. */
export function sectionsOf(points: readonly Point[], items: Items): PointSections {
  const first = groupsOf(
    points.filter((point) => point.asked !== 'usual' && point.asked !== 'always'),
    items,
    'first',
  );
  const usual = groupsOf(
    points.filter((point) => point.asked === 'usual'),
    items,
    'usual',
  );
  const areas = new Map<string, PointGroup[]>();
  for (const group of usual) {
    const area = group.catalogue?.area ?? '';
    areas.set(area, [...(areas.get(area) ?? []), group]);
  }
  return { always: alwaysOf(points), first, usual: [...areas].map(([area, groups]) => ({ area, groups })) };
}

function alwaysOf(points: readonly Point[]): PointGroup[] {
  const groups = new Map<string, PointGroup>();
  for (const point of points) {
    if (point.always === undefined || point.asked !== 'always') continue;
    const { id, title } = point.always;
    const before = groups.get(id);
    // a rule that asks for the same thing says why
    const why = point.ruleId === undefined || before?.why.includes(point.why) ? [] : [point.why];
    groups.set(id, {
      id: `always-${id}`,
      item: point.item,
      label: title,
      catalogue: undefined,
      why: [...(before?.why ?? []), ...why],
      points: [...(before?.points ?? []), point],
    });
  }
  return [...groups.values()];
}

function groupsOf(points: readonly Point[], items: Items, section: string): PointGroup[] {
  const byItem = new Map<string, Point[]>();
  for (const point of points) byItem.set(point.item, [...(byItem.get(point.item) ?? []), point]);
  return [...byItem].map(([item, own]) => ({
    id: `${section}-${item}`,
    item,
    label: own[0]?.label ?? item,
    catalogue: items.get(item),
    why: section === 'first' ? [...new Set(own.map((point) => point.why))] : [],
    points: own,
  }));
}

/** The places of a group that a rule asks for and that are not done, or for which the car was refused. */
export const isRequired = (point: Point): boolean =>
  point.asked === 'refused' ||
  point.asked === 'always' ||
  (point.ruleId !== undefined && point.doneFor?.counts !== true);

/** How far a car is: of what is looked at on every car, and of what is asked for on this one. */
export function completionOf({ claim, places }: Worksheet, items: Items): Record<'always' | 'asked', Seen> {
  const { always, first } = sectionsOf(claim.pointsToCheck, items);
  const isSeen = (point: Point): boolean => point.doneFor?.counts === true || isLookedAt(places[cellOf(point)]);
  const seenOf = (groups: readonly PointGroup[]): Seen => ({
    seen: groups.filter(({ points }) => points.every(isSeen)).length,
    count: groups.length,
  });
  return {
    always: seenOf(always),
    asked: seenOf(
      first.filter(({ points }) => points.some((one) => one.ruleId !== undefined || one.asked === 'refused')),
    ),
  };
}

interface Seen {
  seen: number;
  count: number;
}

/** The cell that stands for a rule's finding or a point named by the server, among the points of a claim. */
export function findCell(
  points: readonly Point[],
  wanted: { items: readonly string[]; position?: string | undefined },
): string | undefined {
  const { items, position } = wanted;
  const own = points.filter((point) => items.includes(point.item));
  const exact = own.find((point) => point.position === position);
  const near = own.find((point) => isNear(point.position, position));
  const found = exact ?? near ?? own[0];
  return found === undefined ? undefined : cellOf(found);
}

type Check = SignOffInput['checks'][number];
export type Items = ReadonlyMap<string, CatalogueItem>;

interface BuiltChecks {
  checks: readonly Check[];
  /** the place of each check, by its index: the server names faults by index */
  cells: readonly string[];
  faults: readonly { cell: string; fault: TypedFault }[];
}

/**
 * The checks of a sign-off from what was entered, in the order of the points. A place that was measured and marked has
 * two checks. What does not apply was not looked at, and is not sent.
 */
export function buildChecks({ claim, places }: Worksheet, items: Items): BuiltChecks {
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
    const readWith = readWithOf(item, entry);
    if (!readWith.ok) return readWith.fault;
    found.push({ ...place, value: read.value, ...(readWith.value === undefined ? {} : { readWith: readWith.value }) });
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
