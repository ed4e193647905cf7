import { isDeepStrictEqual } from 'node:util';
import type { Finding, Judgement } from '../../src/domain/rules/model/finding.ts';
import type { JudgeInput } from '../../src/domain/rules/judge/run.ts';
import { makeTypedClosures, verdictOfFindings } from './rules-bench-closures.ts';
import { makeExpressionClosures } from './rules-bench-expressions.ts';
import type { Closure } from './rules-bench-support.ts';

export type Judge = (car: JudgeInput) => Judgement;

/** The bench's rules as hand-written closures, again and again under ids of their own until there are so many. */
export function makeBaseline(lastDay: string, count: number): Judge {
  const closures: Closure[] = [];
  while (closures.length < count) {
    closures.push(...makeTypedClosures(lastDay, closures.length));
    closures.push(...makeExpressionClosures(closures.length));
  }
  closures.length = count;
  return (car) => {
    const findings: Finding[] = [];
    for (const closure of closures) closure(car, findings);
    return { verdict: verdictOfFindings(findings), findings };
  };
}

/** Both sides must do the same work: every finding of every car is compared before anything is timed. */
export function assertSameWork(ours: Judge, baseline: Judge, cars: readonly JudgeInput[]): void {
  for (const [index, car] of cars.entries()) {
    const a = ours(car);
    const b = baseline(car);
    const at = a.findings.findIndex((finding, place) => !isDeepStrictEqual(finding, b.findings[place]));
    if (at >= 0 || a.findings.length !== b.findings.length || a.verdict !== b.verdict) {
      const pair = JSON.stringify([a.findings[at], b.findings[at]], null, 2);
      throw new Error(`car ${index}: ${a.findings.length} and ${b.findings.length} findings, first difference ${pair}`);
    }
  }
}
