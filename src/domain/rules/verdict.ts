import type { Counts, Effect, Finding, Result, Verdict } from './finding.ts';

/**
 * What a finding does in a judgement. This is the only place that decides it.
 *
 * - met: nothing.
 * - not met or unanswerable: its effect; a missing answer is as bad as a bad one (fail closed).
 * - conceded: a bar becomes a look at the line; nothing else changes.
 * - not known yet: at the declaration stage a rule that lacks nothing but what the inspector answers does not bar;
 *   the line must look. At the line it counts in full.
 */
export function countsAs(
  result: Result,
  effect: Effect,
  isConceded: boolean,
  stage: 'declaration' | 'line',
  /** unanswerable, and all that is missing is for the inspector to answer */
  awaitsInspector: boolean,
): Counts {
  if (result === 'met') return 'no';
  if (effect !== 'bar') return effect;
  if (isConceded) return 'inspect';
  return awaitsInspector && stage === 'declaration' ? 'inspect' : 'bar';
}

/** `barred` if a finding bars, else `to-inspect` if the line must look at one, else `clean`. */
export function verdictOf(findings: readonly Finding[]): Verdict {
  let verdict: Verdict = 'clean';
  for (const finding of findings) {
    if (finding.counts === 'bar') return 'barred';
    if (finding.counts === 'inspect') verdict = 'to-inspect';
  }
  return verdict;
}
