import { conformityProbability } from '../../../domain/conformity.ts';
import { instrumentsFor, uncertaintyIn } from '../../../domain/line/instruments.ts';
import type { CatalogueItem, NamedInstrument, SignOffInput } from '../../api/operations.ts';
import { type NumberType, parseNumber, partsOf, type TypedFault } from './read-typed.ts';
import type { PlaceEntry, Point } from './worksheet.ts';

type ReadWith = NonNullable<SignOffInput['checks'][number]['readWith']>;
export type PointLimit = NonNullable<Point['limits']>[number];

/** In the place of a name: an instrument that the event does not have. */
export const OTHER = '*';

/** The instruments of the event that read an item. */
export const choicesFor = (instruments: readonly NamedInstrument[] | undefined, item: CatalogueItem) =>
  instrumentsFor(instruments ?? [], item.key);

/** Whether anything is said of an item by what it is read with. */
export function hasInstrument(item: CatalogueItem, instruments: readonly NamedInstrument[] | undefined): boolean {
  const usual = partsOf(item).some(({ type }) => type.kind === 'number' && type.uncertainty !== undefined);
  return usual || choicesFor(instruments, item).length > 0;
}

/** The unit in which the uncertainty of an instrument is typed: that of the first number. */
export function unitToType(item: CatalogueItem): string | undefined {
  return partsOf(item).flatMap(({ type }) => (type.kind === 'number' ? [type.unit] : []))[0];
}

/** What a place was read with, for the server; nothing where it was the usual. */
export function readWithOf(
  item: CatalogueItem,
  { readWith }: PlaceEntry,
): { ok: true; value: ReadWith | undefined } | { ok: false; fault: TypedFault } {
  if (readWith === undefined || readWith.name === '') return { ok: true, value: undefined };
  if (readWith.name !== OTHER) return { ok: true, value: { name: readWith.name } };
  const uncertainty = parseNumber(readWith.uncertainty ?? '');
  const name = (readWith.own ?? '').trim().replace(/\s+/g, ' ');
  const unit = unitToType(item);
  if (uncertainty === undefined || uncertainty <= 0 || name === '' || unit === undefined) {
    return { ok: false, fault: { part: 'readWith', key: 'fault.readWith', values: {} } };
  }
  return { ok: true, value: { name, uncertainty, unit } };
}

/** How sure a number is beside one of its limits. */
export interface Sure {
  limit: PointLimit;
  /** U (k = 2) in the limit's unit */
  uncertainty: number;
  /** probability that the true value is inside; undefined: nothing is typed */
  conformity: number | undefined;
  /** the reading counts from here, where the rule guards it */
  from: number | undefined;
  to: number | undefined;
}

/** What the instrument that is chosen means for each limit of a number; empty where its uncertainty is not known. */
export function sureOf(
  part: { name: string; type: NumberType },
  { limits = [], instruments }: { limits?: readonly PointLimit[] | undefined; instruments: readonly NamedInstrument[] },
  { readWith, typed }: PlaceEntry,
): Sure[] {
  const { type } = part;
  const uncertainty = uncertaintyOf(type, instruments, readWith);
  if (uncertainty === undefined) return [];
  const value = parseNumber(typed?.[part.name] ?? '');
  return limits
    .filter((limit) => (limit.part ?? 'value') === part.name)
    .map((limit) => {
      const { atLeast, atMost, decision } = limit;
      const guard = decision === 'guarded' ? uncertainty : 0;
      return {
        limit,
        uncertainty,
        conformity: value === undefined ? undefined : conformityProbability(value, uncertainty / 2, limit),
        from: guard === 0 || atLeast === undefined ? undefined : atLeast + guard,
        to: guard === 0 || atMost === undefined ? undefined : atMost - guard,
      };
    });
}

function uncertaintyOf(
  { unit, uncertainty }: NumberType,
  instruments: readonly NamedInstrument[],
  readWith: PlaceEntry['readWith'],
): number | undefined {
  if (readWith === undefined || readWith.name === '') return uncertainty?.expanded;
  if (readWith.name === OTHER) {
    const own = parseNumber(readWith.uncertainty ?? '');
    return own === undefined || own <= 0 ? undefined : own;
  }
  const named = instruments.find(({ name }) => name === readWith.name);
  // the unit of an item is one that quantities know
  return named && uncertaintyIn(unit as Parameters<typeof uncertaintyIn>[0], named);
}
