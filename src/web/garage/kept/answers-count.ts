import { cellOf, type FormItem, placeOfCell } from './asked.ts';
import { type Cells, EACH, leafAt } from './cells.ts';
import type { Declaration } from './declaration.ts';
import { sendable } from './declaration.ts';

export interface Count {
  asked: number;
  given: number;
}

/**
 * Whether a question has an answer: its own, or that of each place. One of parts that may all be left out has it with any of
 * them; a look at all places has it also once each of them is answered by itself.
 */
export function isGiven(cells: Cells, cell: string, item: FormItem | undefined): boolean {
  const { key, position, field } = placeOfCell(cell);
  if (leafAt(cells, { key, position, field }) !== undefined) return true;
  if (Object.keys(cells).some((one) => one.startsWith(`${cell}#`))) return true;
  const positions = position === EACH ? (item?.positions ?? []) : [];
  return positions.length > 0 && positions.every((at) => cells[cellOf(key, at, field)] !== undefined);
}

/** The cells of an item that a rule in force needs, as the server said last. */
export function askedCells(declaration: Declaration, key: string): string[] {
  return (declaration.form.value?.asked.cells ?? []).filter((cell) => placeOfCell(cell).key === key);
}

/** How far the answers to what is asked are, of all items or of some; what is optional does not count. */
export function countOf(declaration: Declaration, items: readonly FormItem[]): Count {
  const keys = new Set(items.map(({ key }) => key));
  const cells = (declaration.form.value?.asked.cells ?? []).filter((cell) => keys.has(placeOfCell(cell).key));
  const given = cells.filter((cell) => {
    const item = items.find(({ key }) => key === placeOfCell(cell).key);
    return isGiven(declaration.cells.value, cell, item);
  });
  return { asked: cells.length, given: given.length };
}

/** Cells that cannot be sent as they are: refused, no number, or half of an answer. */
export function stuckCells(declaration: Declaration): string[] {
  const { sent } = sendable(declaration);
  const half = Object.keys(declaration.cells.value).filter((cell) => sent[cell] === undefined);
  return [...new Set([...half, ...Object.keys(declaration.unread.value)])];
}
