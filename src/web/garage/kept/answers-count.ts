import { type FormItem, countAnswers } from './asked.ts';
import type { Desk } from './desk.ts';
import { sendable } from './desk.ts';

export interface Count {
  asked: number;
  given: number;
}

/** How far the answers are, of all items or of some. */
export function countOf(desk: Desk, items: readonly FormItem[]): Count {
  let asked = 0;
  let given = 0;
  for (const item of items) {
    const count = countAnswers(item, (cell) => desk.cells.value[cell] !== undefined);
    asked += count.asked;
    given += count.given;
  }
  return { asked, given };
}

/** Cells that cannot be sent as they are: refused, no number, or half of an answer. */
export function stuckCells(desk: Desk): string[] {
  const { sent } = sendable(desk);
  const half = Object.keys(desk.cells.value).filter((cell) => sent[cell] === undefined);
  return [...new Set([...half, ...Object.keys(desk.unread.value)])];
}
