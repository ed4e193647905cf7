import { checkRuleSet } from '../../src/domain/rules/check/check.ts';
import { evaluate } from '../../src/domain/rules/judge/evaluate.ts';
import type { JudgeInput } from '../../src/domain/rules/judge/run.ts';
import { assertSameWork, type Judge, makeBaseline } from './rules-bench-baseline.ts';
import { makeBenchCars } from './rules-bench-cars.ts';
import { listTests, makeBenchRuleSet } from './rules-bench-set.ts';
import { cpuMilliseconds, median } from './rules-bench-support.ts';

export interface BenchResult {
  name: string;
  oursPerSecond: number;
  baselinePerSecond: number;
  ratio: number;
  /** the ratio by the clock; `ratio` is by processor time */
  wallRatio: number;
}

/** Whole inspections a second: of processor time, and by the clock. */
interface Rate {
  cpu: number;
  wall: number;
}

function makeOurs(): Judge {
  const checked = checkRuleSet(makeBenchRuleSet());
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults, null, 2));
  return (car) => evaluate(checked.compiled, car);
}

function perSecond(judge: Judge, cars: readonly JudgeInput[]): Rate {
  const started = performance.now();
  const cpuMs = cpuMilliseconds(() => {
    for (const car of cars) judge(car);
  });
  return { cpu: (cars.length * 1000) / cpuMs, wall: (cars.length * 1000) / (performance.now() - started) };
}

const CARS = 500;
const ROUNDS = 41;
const WARM_UP = 6;

/**
 * Judges whole inspections (120 rules, about 80 answered items) with the engine and with hand-written closures that
 * write the same findings, in turns in one process; whole inspections a second of
 * processor time, medians, ratio of the two.
 */
export async function benchRules(): Promise<BenchResult[]> {
  const cars = makeBenchCars(CARS);
  const ours = makeOurs();
  const baseline = makeBaseline(cars[0]?.event.endsOn ?? '', listTests().length);
  assertSameWork(ours, baseline, cars);
  const ourRates: Rate[] = [];
  const baselineRates: Rate[] = [];
  for (let round = 0; round < ROUNDS + WARM_UP; round += 1) {
    // who goes first changes, so that neither always pays for the other's garbage
    const early = round % 2 === 0 ? perSecond(ours, cars) : undefined;
    const b = perSecond(baseline, cars);
    const a = early ?? perSecond(ours, cars);
    if (round < WARM_UP) continue;
    ourRates.push(a);
    baselineRates.push(b);
  }
  const middle = (rates: readonly Rate[], of: keyof Rate): number => median(rates.map((rate) => rate[of]));
  const [oursPerSecond, baselinePerSecond] = [middle(ourRates, 'cpu'), middle(baselineRates, 'cpu')];
  return [
    {
      name: 'rules: 120-rule inspection against closures',
      oursPerSecond,
      baselinePerSecond,
      ratio: oursPerSecond / baselinePerSecond,
      wallRatio: middle(ourRates, 'wall') / middle(baselineRates, 'wall'),
    },
  ];
}
