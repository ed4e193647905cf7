import { type Answers, parseAnswers } from '../domain/declaration.ts';
import { nameFaults, ProblemError } from '../http/problem.ts';

/**
 * Parses answers that a caller sent.
 *
 * @param pointer JSON Pointer of the answers in the body, put before each fault's own pointer
 * @throws ProblemError `answers-not-acceptable` naming every fault
 */
export function readAnswers(raw: unknown, pointer: string): Answers {
  const parsed = parseAnswers(raw);
  if (parsed.ok) return parsed.answers;
  const errors = parsed.faults.map((fault) => ({ ...fault, pointer: pointer + fault.pointer, in: 'body' as const }));
  const more = parsed.more > 0 ? { moreErrors: parsed.more } : {};
  throw new ProblemError('answers-not-acceptable', nameFaults(errors, parsed.more), { errors, ...more });
}
