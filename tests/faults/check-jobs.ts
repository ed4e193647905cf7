import type { Violation } from './violation.ts';
import type { Truth } from './truth.ts';

/** Every row of the outbox ran at least once, and what it does shows exactly once. */
export function checkJobs(truth: Truth, toldLines: readonly string[]): Violation[] {
  const violations: Violation[] = [];
  const undone = truth.outbox.filter(({ due, done }) => due && !done);
  for (const { name, id } of undone)
    violations.push({ promise: 'outbox row is done at least once', what: `${name} ${id}` });
  const told = countOf(truth.notifications);
  const expected = new Set(messagesOf(truth));
  const wrong = (what: string) => violations.push({ promise: 'entrant is told exactly once', what });
  for (const key of expected) if (told.get(key) !== 1) wrong(`${key}: ${told.get(key) ?? 0} times`);
  for (const key of told.keys()) if (!expected.has(key)) wrong(`${key}: nothing of that kind happened`);
  for (const [key, count] of countOf(toldLines)) if (count > 1) wrong(`${key}: ${count} lines in the log`);
  return violations;
}

/** The messages that the history asks for, by the key that each is sent once under. */
function messagesOf(truth: Truth): string[] {
  return truth.history.flatMap(({ action, data }) => {
    const { inspectionId, signOffId, holdId } = (data['event'] ?? {}) as Record<string, string | undefined>;
    if (action === 'inspection.submitted') return [`${action}/${inspectionId}`];
    if (action === 'entry.signed-off') return [`${action}/${signOffId}`];
    return action === 'hold.placed' || action === 'hold.lifted' ? [`${action}/${holdId}`] : [];
  });
}

function countOf(texts: readonly string[]): Map<string, number> {
  const counts = new Map<string, number>();
  for (const text of texts) counts.set(text, (counts.get(text) ?? 0) + 1);
  return counts;
}
