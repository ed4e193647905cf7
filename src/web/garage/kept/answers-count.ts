import { type FormItem, countAnswers } from './asked.ts';
import type { Declaration } from './declaration.ts';
import { sendable } from './declaration.ts';

export interface Count {
  asked: number;
  given: number;
}

/** How far the answers are, of all items or of some. */
export function countOf(declaration: Declaration, items: readonly FormItem[]): Count {
  let asked = 0;
  let given = 0;
  for (const item of items) {
    const count = countAnswers(item, (cell) => declaration.cells.value[cell] !== undefined);
    asked += count.asked;
    given += count.given;
  }
  return { asked, given };
}

/** Cells that cannot be sent as they are: refused, no number, or half of an answer. */
export function stuckCells(declaration: Declaration): string[] {
  const { sent } = sendable(declaration);
  const half = Object.keys(declaration.cells.value).filter((cell) => sent[cell] === undefined);
  return [...new Set([...half, ...Object.keys(declaration.unread.value)])];
}
