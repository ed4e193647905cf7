import type { Violation } from './check.ts';
import type { Operation } from './history.ts';
import type { Truth } from './truth.ts';

/** The cars of an acknowledged file are all there, once; of a refused one none; of any other all or none. */
export function checkImports(operations: readonly Operation[], truth: Truth): Violation[] {
  const times = new Map<string, number>();
  for (const number of truth.carNumbers) times.set(number, (times.get(number) ?? 0) + 1);
  const violations: Violation[] = [];
  const asked = new Map<string, Operation[]>();
  for (const operation of operations) {
    if (operation.kind !== 'import') continue;
    const file = (operation.intent.carNumbers ?? []).join(' ');
    asked.set(file, [...(asked.get(file) ?? []), operation]);
  }
  for (const [file, same] of asked) {
    const counts = file.split(' ').map((number) => times.get(number) ?? 0);
    const there = counts.filter((count) => count > 0).length;
    const outcomes = same.map(({ outcome }) => outcome);
    const what = `${there} of ${counts.length} cars of a file that was ${outcomes.join(', ')}`;
    if (counts.some((count) => count > 1)) violations.push({ promise: 'acknowledged write is there once', what });
    if (there !== 0 && there !== counts.length) violations.push({ promise: 'import is all or nothing', what });
    if (outcomes.includes('ok') && there === 0) violations.push({ promise: 'acknowledged write is there once', what });
    if (outcomes.every((outcome) => outcome === 'refused') && there > 0) {
      violations.push({ promise: 'refused write did not happen', what });
    }
  }
  return violations;
}
