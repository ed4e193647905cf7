import { cellOf, type FormItem, placesAt, positionsOf, typeOf } from './asked.ts';

/** One value as the API takes it: a number in the item's unit, or with its unit; a choice, a text, a date; choices. */
export type Leaf = number | string | boolean | readonly string[] | { value: number; unit: string } | NoAnswer;

/** What stands in the place of an answer: in every cell of the place, so that a value typed there takes its turn. */
export type NoAnswer = { doesNotApply: string } | { notSure: true };

export const isNoAnswer = (leaf: unknown): leaf is NoAnswer =>
  isObject(leaf) && (Object.hasOwn(leaf, 'doesNotApply') || Object.hasOwn(leaf, 'notSure'));

/** Answers by cell. What is not answered has no cell. */
export type Cells = Readonly<Record<string, Leaf>>;

const isObject = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

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
  return Object.fromEntries(Object.entries(raw).flatMap(([position, at]) => cellsAt(item, position, at)));
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
    const at = positionsOf(item).flatMap((position) => {
      const { answer, lacking } = answerAt(item, position, cells);
      withheld.push(...lacking);
      return answer === undefined ? [] : [[position, answer] as const];
    });
    if (at.length === 0) continue;
    answers[item.key] = item.positions === undefined ? at[0]?.[1] : Object.fromEntries(at);
  }
  return { answers, withheld };
}

function answerAt(item: FormItem, position: string | undefined, cells: Cells) {
  const places = placesAt(item, position);
  const given = places.filter(({ cell }) => cells[cell] !== undefined);
  if (given.length === 0) return { answer: undefined, lacking: [] };
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
  const position = item.positions === undefined ? undefined : rest.shift();
  const type = typeOf(item);
  if (type.kind !== 'fields') return cellOf(key, position);
  const [first] = Object.keys(type.fields);
  const field = rest.shift() ?? '';
  // What is said instead of an answer is no part of it.
  return cellOf(key, position, Object.hasOwn(type.fields, field) ? field : first);
}

/** The id of a field in the page. */
export const fieldId = (cell: string): string => `cell-${cell.replace(/[^\w-]/g, '_')}`;
export const itemId = (key: string): string => `item-${key.replace(/[^\w-]/g, '_')}`;
