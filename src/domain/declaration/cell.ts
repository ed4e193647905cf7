import type { ReadValue } from './read-answer.ts';

/** A number is in the item's canonical unit and rounded to its decimals. */
export type AnswerValue = ReadValue;

/** One place an answer is kept at: an item, at a position, in a field of a composite answer. */
export interface Cell {
  key: string;
  position?: string;
  field?: string;
}

/** The cell's name in `Answers`: `key`, `key@position`, `key#field` or `key@position#field`. */
export function cellKey(key: string, position?: string, field?: string): string {
  const at = position === undefined ? key : `${key}@${position}`;
  return field === undefined ? at : `${at}#${field}`;
}
