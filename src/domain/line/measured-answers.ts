import { type Answers, type AnswerValue, cellKey, parseAnswers } from '../declaration/declaration.ts';
import { keepReadWith, type ReadWith, readWithName } from './instruments.ts';

/** A check of a sign-off, as far as a value goes. */
export interface MeasuredCheck {
  item: string;
  position?: string | undefined;
  value?: unknown;
  readWith?: ReadWith | undefined;
}

/** The value of a check as answers are sent. */
export const rawOf = ({ item, position, value }: MeasuredCheck): Record<string, unknown> => ({
  [item]: position === undefined ? value : { [position]: value },
});

/** Keeps the cells of one check, and what they were read with; a later check of the same place wins in both. */
export function keepMeasured(
  to: Map<string, AnswerValue>,
  { item, position, readWith }: MeasuredCheck,
  cells: Answers,
): void {
  for (const [cell, value] of cells) to.set(cell, value);
  const place = cellKey(item, position);
  if (readWith !== undefined) keepReadWith(to, place, readWith);
  else to.delete(readWithName(place));
}

/**
 * What checks measured, as answers that judge. One that a later catalogue cannot read is left out: its point then counts as
 * declared, or as not known.
 */
export function measuredAnswers(checks: readonly MeasuredCheck[]): Answers {
  const measured = new Map<string, AnswerValue>();
  for (const check of checks) {
    if (check.value === undefined) continue;
    const parsed = parseAnswers(rawOf(check));
    if (parsed.ok) keepMeasured(measured, check, parsed.answers);
  }
  return measured;
}
