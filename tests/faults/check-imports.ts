import type { Operation } from './history.ts';
import type { Truth } from './truth.ts';
import { groupBy, type Violation } from './violation.ts';

/** The cars of an acknowledged file are all there, once; of a refused one none; of any other all or none. */
export function checkImports(operations: readonly Operation[], truth: Truth): Violation[] {
  const times = new Map<string, number>();
  for (const number of truth.carNumbers) times.set(number, (times.get(number) ?? 0) + 1);
  const files = groupBy(
    operations.filter(({ kind }) => kind === 'import'),
    ({ intent }) => (intent.carNumbers ?? []).join(' '),
  );
  return [...files].flatMap(([file, same]) => {
    const counts = file.split(' ').map((number) => times.get(number) ?? 0);
    const outcomes = same.map(({ outcome }) => outcome);
    const there = counts.filter((count) => count > 0).length;
    const promise = brokenBy(counts, there, outcomes);
    const what = `${there} of ${counts.length} cars of a file that was ${outcomes.join(', ')}`;
    return promise === undefined ? [] : [{ promise, what }];
  });
}

function brokenBy(
  counts: readonly number[],
  there: number,
  outcomes: readonly Operation['outcome'][],
): Violation['promise'] | undefined {
  if (counts.some((count) => count > 1)) return 'acknowledged write is there once';
  if (there !== 0 && there !== counts.length) return 'import is all or nothing';
  if (there === 0) return outcomes.includes('ok') ? 'acknowledged write is there once' : undefined;
  return outcomes.every((outcome) => outcome === 'refused') ? 'refused write did not happen' : undefined;
}
