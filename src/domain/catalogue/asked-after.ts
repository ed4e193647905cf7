import type { AskedAfter } from './item.ts';

/**
 * Whether an item is asked by now: at once, or because the other item is answered with one of the answers it waits for.
 *
 * @param answer what the other item is answered with, at the same position where both have it
 */
export function isAskedByNow(after: AskedAfter | undefined, answer: unknown): boolean {
  if (after === undefined) return true;
  const chosen: readonly unknown[] = Array.isArray(answer) ? answer : [answer];
  return chosen.some((one) => typeof one === 'string' && after.answers.includes(one));
}
