import type { Finding } from '../api/operations.ts';

const RANK = { bar: 0, inspect: 1, advise: 2, no: 3 } as const;

/** Findings of one rule that say the same, at one place or more. */
export interface FixGroup {
  ruleId: string;
  /** the one that is furthest outside stands for all */
  worst: Finding;
  findings: readonly Finding[];
}

/** How far outside relative to the limit: 3 mm of 4 mm is 0.25. An answer that is only missing comes after what is wrong. */
export function shortfall({ result, margin, bounds }: Finding): number {
  if (result === 'unanswerable') return 0;
  if (margin === undefined) return 1;
  const size = Math.abs(bounds?.min?.value ?? bounds?.max?.value ?? 0);
  return -margin.value / (size === 0 ? 1 : size);
}

/** What is to be done, in order of importance: what bars first, then what is furthest outside its limit. */
export function fixesOf(findings: readonly Finding[]): FixGroup[] {
  const groups = new Map<string, Finding[]>();
  for (const finding of findings) {
    if (finding.result === 'met' || finding.watched === true) continue;
    const name = `${finding.ruleId}\n${finding.counts}\n${finding.message}`;
    groups.set(name, [...(groups.get(name) ?? []), finding]);
  }
  return [...groups.values()]
    .map((members) => {
      const sorted = members.toSorted(byWeight);
      // a group has at least the finding that made it
      const worst = sorted[0] as Finding;
      return { ruleId: worst.ruleId, worst, findings: sorted };
    })
    .toSorted((a, b) => byWeight(a.worst, b.worst));
}

function byWeight(a: Finding, b: Finding): number {
  const rank = RANK[a.counts] - RANK[b.counts];
  if (rank !== 0) return rank;
  const [first, second] = [shortfall(a), shortfall(b)];
  return first === second ? 0 : second - first;
}

/** What to do about it; an answer that is missing is to be given, and nothing else is known yet. */
export const fixOf = ({ result, fix }: Finding): string => (result === 'not-met' ? fix : '');

/** A rule that reads several answers is about the first of them; the others only come into it. */
export const isAbout = ({ items }: Finding, key: string): boolean => items[0] === key;

/** How many places still stop the car, need a look, or are advice. */
export function countFixes(findings: readonly Finding[]): { bar: number; inspect: number; advise: number } {
  const count = { bar: 0, inspect: 0, advise: 0 };
  for (const { worst } of fixesOf(findings)) if (worst.counts !== 'no') count[worst.counts] += 1;
  return count;
}
