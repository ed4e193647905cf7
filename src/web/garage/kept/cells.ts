import { cellOf, type FormItem, LOWEST_AT, type Place, placeOfCell, placesAt, typeOf } from './asked.ts';

/** One value as the API takes it: a number in the item's unit, or with its unit; a choice, a text, a date; choices. */
export type Leaf =
  | number
  | string
  | boolean
  | readonly string[]
  | { value: number; unit: string }
  | NoAnswer
  | { sameAs: string };

/** In the place of a position: all places of an item, each looked at. What differs has a cell of its own. */
export const EACH = '*';

/** What stands in the place of an answer: in every cell of the place, so that a value typed there takes its turn. */
export type NoAnswer = { doesNotApply: string } | { notSure: true };

export const isNoAnswer = (leaf: unknown): leaf is NoAnswer =>
  isObject(leaf) && (Object.hasOwn(leaf, 'doesNotApply') || Object.hasOwn(leaf, 'notSure'));

/** Answers by cell. What is not answered has no cell. */
export type Cells = Readonly<Record<string, Leaf>>;

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** A place that was seen to be the same as another one. */
export const isSameAs = (leaf: unknown): leaf is { sameAs: string } => isObject(leaf) && Object.hasOwn(leaf, 'sameAs');

/**
 * What a place needs beside a part that is said of it alone, where all places had one answer: their other parts. Without
 * them the answer of the place would lack what was said of it already.
 */
export function partsBeside(cells: Cells, cell: string): Cells {
  const { key, position, field } = placeOfCell(cell);
  if (position === undefined || position === EACH || field === undefined) return {};
  const all = `${cellOf(key, EACH)}#`;
  const parts = Object.entries(cells).flatMap(([one, leaf]) =>
    one.startsWith(all) ? [[cellOf(key, position, one.slice(all.length)), leaf] as const] : [],
  );
  return Object.fromEntries(parts.filter(([own]) => cells[own] === undefined && own !== cell));
}

/** What is answered at a place: its own answer, else that of each place; of another place where it is the same. */
export function leafAt(
  cells: Cells,
  { key, position, field }: Pick<Place, 'key' | 'position' | 'field'>,
): Leaf | undefined {
  const own = cells[cellOf(key, position, field)];
  if (isSameAs(own)) return cells[cellOf(key, own.sameAs, field)];
  return own ?? (position === undefined ? undefined : cells[cellOf(key, EACH, field)]);
}

/** The database gives the parts of a measurement in an order of its own. */
function asLeaf(raw: unknown): Leaf | undefined {
  if (raw === null || raw === undefined) return undefined;
  if (!isObject(raw) || isNoAnswer(raw)) return raw as Leaf;
  return { value: Number(raw['value']), unit: String(raw['unit']) };
}

function cellsAt(item: FormItem, position: string | undefined, raw: unknown): [string, Leaf][] {
  if (isNoAnswer(raw)) return placesAt(item, position).map(({ cell }) => [cell, raw]);
  if (typeOf(item).kind === 'fields') {
    if (!isObject(raw)) return [];
    return Object.entries(raw).flatMap(([field, part]) => {
      const leaf = asLeaf(part);
      return leaf === undefined ? [] : [[cellOf(item.key, position, field), leaf] as [string, Leaf]];
    });
  }
  const leaf = asLeaf(raw);
  return leaf === undefined ? [] : [[cellOf(item.key, position), leaf]];
}

/** The cells of an answer to an item. */
export function cellsOfAnswer(item: FormItem, raw: unknown): Cells {
  if (item.positions === undefined) return Object.fromEntries(cellsAt(item, undefined, raw));
  // Said once for all places.
  if (isNoAnswer(raw)) return Object.fromEntries(item.positions.flatMap((position) => cellsAt(item, position, raw)));
  if (!isObject(raw)) return {};
  if (raw['basis'] === 'each-place') {
    const except = isObject(raw['except']) ? Object.entries(raw['except']) : [];
    const all = [[EACH, raw['value']] as const, ...except];
    return Object.fromEntries(all.flatMap(([position, at]) => cellsAt(item, position, at)));
  }
  return Object.fromEntries(Object.entries(raw).flatMap(([position, at]) => cellsOfPlace(item, position, at)));
}

function cellsOfPlace(item: FormItem, position: string, raw: unknown): [string, Leaf][] {
  if (!isObject(raw) || !Object.hasOwn(raw, 'basis')) return cellsAt(item, position, raw);
  if (raw['basis'] !== 'same-as') return cellsAt(item, position, raw['value']);
  const sameAs = String(raw['of']);
  return placesAt(item, position).map(({ cell }) => [cell, { sameAs }]);
}

/** The cells of what is saved. */
export function cellsOfForm(items: readonly FormItem[]): Cells {
  return Object.assign({}, ...items.map((item) => cellsOfAnswer(item, item.saved))) as Cells;
}

export function sameLeaf(a: Leaf | undefined, b: Leaf | undefined): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}

export function without(cells: Cells, drop: (cell: string) => boolean): Cells {
  return Object.fromEntries(Object.entries(cells).filter(([cell]) => !drop(cell)));
}

/**
 * The answers as the API takes them. A composite answer that lacks a required part is not an answer yet: its cells are
 * `withheld` until it is whole.
 */
export function answersOf(
  items: readonly FormItem[],
  cells: Cells,
): { answers: Record<string, unknown>; withheld: string[] } {
  const answers: Record<string, unknown> = {};
  const withheld: string[] = [];
  for (const item of items) {
    const read = (position: string | undefined): unknown => {
      const { answer, lacking } = answerAt(item, position, cells);
      withheld.push(...lacking);
      return answer;
    };
    const answer = item.positions === undefined ? read(undefined) : placedAnswer(item, item.positions, read);
    if (answer !== undefined) answers[item.key] = answer;
  }
  return { answers, withheld };
}

/** The basis by which the lowest value around a place is given. */
const LOWEST = { axle: 'lowest-of-axle', wheel: 'lowest-of-tyre' } as const;

function placedAnswer(
  item: FormItem,
  positions: readonly string[],
  read: (position: string) => unknown,
): Record<string, unknown> | undefined {
  const given = (at: readonly string[]) =>
    at.map((position) => [position, read(position)] as const).filter(([, answer]) => answer !== undefined);
  const own = given(positions);
  const each = read(EACH);
  if (each !== undefined) {
    return { basis: 'each-place', value: each, ...(own.length > 0 && { except: Object.fromEntries(own) }) };
  }
  const { lowestOf } = item;
  const basis = lowestOf === undefined ? '' : LOWEST[lowestOf];
  const lowest = lowestOf === undefined ? [] : given(LOWEST_AT[lowestOf]).map(([at, value]) => [at, { basis, value }]);
  const all = [...lowest, ...own];
  return all.length === 0 ? undefined : Object.fromEntries(all);
}

function answerAt(item: FormItem, position: string | undefined, cells: Cells) {
  const places = placesAt(item, position);
  const given = places.filter(({ cell }) => cells[cell] !== undefined);
  if (given.length === 0) return { answer: undefined, lacking: [] };
  const same = given.map(({ cell }) => cells[cell]).find(isSameAs);
  if (same !== undefined) return { answer: { basis: 'same-as', of: same.sameAs }, lacking: [] };
  if (typeOf(item).kind !== 'fields') return { answer: cells[cellOf(item.key, position)], lacking: [] };
  const valued = given.filter(({ cell }) => !isNoAnswer(cells[cell]));
  if (valued.length === 0) return { answer: cells[given[0]?.cell ?? ''], lacking: [] };
  // Beside a value, "not sure" of another part answers nothing.
  const isWhole = places.every(({ part, cell }) => part?.required !== true || valued.some((one) => one.cell === cell));
  if (!isWhole || valued.length < given.length) return { answer: undefined, lacking: given.map(({ cell }) => cell) };
  return { answer: Object.fromEntries(given.map(({ cell, field }) => [field, cells[cell]])), lacking: [] };
}

/** The cell that a JSON Pointer of a refusal (`/answers/pad.thickness/FL.in/value`) is about. */
export function cellAtPointer(items: readonly FormItem[], pointer: string): string | undefined {
  const steps = pointer
    .split('/')
    .slice(1)
    .map((step) => step.replaceAll('~1', '/').replaceAll('~0', '~'));
  const [, key = '', ...rest] = steps;
  const item = items.find((one) => one.key === key);
  if (item === undefined) return undefined;
  const position = item.positions === undefined ? undefined : positionAt(rest);
  const type = typeOf(item);
  if (type.kind !== 'fields') return cellOf(key, position);
  const [first] = Object.keys(type.fields);
  const field = rest.shift() ?? '';
  // What is said instead of an answer is no part of it.
  return cellOf(key, position, Object.hasOwn(type.fields, field) ? field : first);
}

/** The place in the steps of a refusal; what was said of each place stands in its value or among its exceptions. */
function positionAt(rest: string[]): string | undefined {
  const step = rest.shift();
  if (step === 'value' || step === 'basis') return EACH;
  return step === 'except' ? rest.shift() : step;
}

/** The id of a field in the page. */
export const fieldId = (cell: string): string => `cell-${cell.replace(/[^\w-]/g, '_')}`;
export const itemId = (key: string): string => `item-${key.replace(/[^\w-]/g, '_')}`;
