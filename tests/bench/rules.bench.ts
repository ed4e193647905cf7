import { isDeepStrictEqual } from 'node:util';
import { checkRuleSet } from '../../src/domain/rules/check.ts';
import { evaluate } from '../../src/domain/rules/evaluate.ts';
import type { Finding, Judgement } from '../../src/domain/rules/finding.ts';
import type { JudgeInput } from '../../src/domain/rules/judge-input.ts';
import { makeBenchCars } from './rules-bench-cars.ts';
import { makeTypedClosures, verdictOfFindings } from './rules-bench-closures.ts';
import { makeExpressionClosures } from './rules-bench-expressions.ts';
import { makeBenchRuleSet } from './rules-bench-set.ts';
import type { Closure } from './rules-bench-support.ts';

export interface BenchResult {
  name: string;
  oursPerSecond: number;
  baselinePerSecond: number;
  ratio: number;
}

type Judge = (car: JudgeInput) => Judgement;

function makeBaseline(lastDay: string): Judge {
  const typed = makeTypedClosures(lastDay);
  const closures: Closure[] = [...typed, ...makeExpressionClosures(typed.length)];
  return (car) => {
    const findings: Finding[] = [];
    for (const closure of closures) closure(car, findings);
    return { verdict: verdictOfFindings(findings), findings };
  };
}

function makeOurs(): Judge {
  const checked = checkRuleSet(makeBenchRuleSet());
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults, null, 2));
  return (car) => evaluate(checked.compiled, car);
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

function perSecond(judge: Judge, cars: readonly JudgeInput[]): number {
  const started = performance.now();
  for (const car of cars) judge(car);
  return (cars.length * 1000) / (performance.now() - started);
}

const median = (values: number[]): number => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)] ?? 0;

const CARS = 500;
const ROUNDS = 41;
const WARM_UP = 6;

/**
 * Judges whole inspections (120 rules, about 80 answered items) with the engine and with hand-written closures that
 * write the same findings, in turns in one process; whole inspections a second, medians, ratio of the two.
 */
export async function benchRules(): Promise<BenchResult[]> {
  const cars = makeBenchCars(CARS);
  const ours = makeOurs();
  const baseline = makeBaseline(cars[0]?.event.endsOn ?? '');
  assertSameWork(ours, baseline, cars);
  const ourRates: number[] = [];
  const baselineRates: number[] = [];
  for (let round = 0; round < ROUNDS + WARM_UP; round += 1) {
    // who goes first changes, so that neither always pays for the other's garbage
    const first = round % 2 === 0;
    const a = first ? perSecond(ours, cars) : 0;
    const b = perSecond(baseline, cars);
    const ourRate = first ? a : perSecond(ours, cars);
    if (round < WARM_UP) continue;
    ourRates.push(ourRate);
    baselineRates.push(b);
  }
  const [oursPerSecond, baselinePerSecond] = [median(ourRates), median(baselineRates)];
  return [
    {
      name: 'rules: 120-rule inspection against closures',
      oursPerSecond,
      baselinePerSecond,
      ratio: oursPerSecond / baselinePerSecond,
    },
  ];
}
