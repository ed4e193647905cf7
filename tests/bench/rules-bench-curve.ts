import { checkRuleSet } from '../../src/domain/rules/check/check.ts';
import { compileRuleSet, evaluate } from '../../src/domain/rules/judge/evaluate.ts';
import type { JudgeInput } from '../../src/domain/rules/judge/run.ts';
import { RuleSet } from '../../src/domain/rules/model/rule-set.ts';
import { assertSameWork, type Judge, makeBaseline } from './rules-bench-baseline.ts';
import { makeBenchCars } from './rules-bench-cars.ts';
import { headOf, makeBenchRuleSet } from './rules-bench-set.ts';
import { cpuMilliseconds, median } from './rules-bench-support.ts';

/** What one rule of a rule set of this size costs, processor time. */
export interface CurvePoint {
  rules: number;
  microsecondsPerCar: number;
  microsecondsPerRule: number;
  /** of hand-written closures of as many rules: how they grow is the machine's doing */
  closuresPerRule: number;
  /** how many times the engine is as fast as they, median of rounds */
  ratio: number;
}

export interface Curve {
  points: CurvePoint[];
  /** what a rule costs in the largest rule set, of what it costs in the smallest; medians of rounds */
  growth: { ours: number; closures: number };
}

/** The static check of a rule set, milliseconds. */
export interface CheckTime {
  rules: number;
  examples: number;
  wallMs: number;
  cpuMs: number;
}

const LARGEST = 2000;
const SIZES = [120, 250, 500, 1000, LARGEST] as const;
const CARS = 100;
/** one of each kind; all of them would take longer than what is measured */
const CARS_COMPARED = 10;
const CURVE_ROUNDS = 15;
const CHECKED_RULES = 500;
/** none, as many as the built-in rule set must have, as many as a document may have */
const EXAMPLES = [0, 60, 1000] as const;
const CHECK_ROUNDS = 7;
const WARM_UP = 2;

/** The bench's rules again and again under ids of their own, until there are so many. */
function repeated(count: number): RuleSet {
  const document = RuleSet.parse(makeBenchRuleSet());
  const rules = Array.from({ length: count }, (_, index) => {
    const rule = document.rules[index % document.rules.length];
    if (rule === undefined) throw new Error('the bench has no rules');
    // a copy of its own: nothing but the catalogue is shared between the rules of a real rule set
    return { ...structuredClone(rule), ...headOf(index, rule.items), items: [...rule.items] };
  });
  return { ...document, rules };
}

interface Size {
  size: number;
  ours: Judge;
  baseline: Judge;
  /** processor time of one rule by round, microseconds */
  perRule: { ours: number[]; baseline: number[] };
}

function makeSize(size: number, cars: readonly JudgeInput[]): Size {
  const compiled = compileRuleSet(repeated(size));
  const ours: Judge = (car) => evaluate(compiled, car);
  const baseline = makeBaseline(cars[0]?.event.endsOn ?? '', size);
  assertSameWork(ours, baseline, cars.slice(0, CARS_COMPARED));
  return { size, ours, baseline, perRule: { ours: [], baseline: [] } };
}

function timePerRule(judge: Judge, size: number, cars: readonly JudgeInput[]): number {
  // as many rules judged at each size, so that no point is measured on less work than another
  const turns = Math.round(LARGEST / size);
  const spent = cpuMilliseconds(() => {
    for (let turn = 0; turn < turns; turn += 1) for (const car of cars) judge(car);
  });
  return (spent * 1000) / (turns * cars.length * size);
}

/** The median of the quotients round by round: what slows a whole round down is in both numbers. */
const quotient = (of: readonly number[], by: readonly number[] = []): number =>
  median(of.map((value, round) => value / (by[round] ?? value)));

/** Judges the same cars under rule sets of growing size, with both sides and all sizes in turns. A flat line is the aim. */
export function benchCurve(): Curve {
  const cars = makeBenchCars(CARS);
  const sizes = SIZES.map((size) => makeSize(size, cars));
  for (let round = -WARM_UP; round < CURVE_ROUNDS; round += 1) {
    for (const { size, ours, baseline, perRule } of sizes) {
      const [a, b] = [timePerRule(ours, size, cars), timePerRule(baseline, size, cars)];
      if (round < 0) continue;
      perRule.ours.push(a);
      perRule.baseline.push(b);
    }
  }
  const points = sizes.map(({ size, perRule: { ours, baseline } }) => ({
    rules: size,
    microsecondsPerCar: median(ours) * size,
    microsecondsPerRule: median(ours),
    closuresPerRule: median(baseline),
    ratio: quotient(baseline, ours),
  }));
  const [first, last] = [sizes.at(0)?.perRule, sizes.at(-1)?.perRule];
  const growth = {
    ours: quotient(last?.ours ?? [], first?.ours),
    closures: quotient(last?.baseline ?? [], first?.baseline),
  };
  return { points, growth };
}

/** Cars that answer nothing: every rule that applies writes a finding that says what is missing, the dearest kind. */
function withExamples(document: RuleSet, count: number): unknown {
  const examples = makeBenchCars(count).map(({ vehicle, event }, index) => ({
    name: `Example ${index}`,
    vehicle,
    answers: {},
    event,
    expect: 'barred',
  }));
  return { ...document, examples };
}

/** The static check of 500 rules, as a draft is checked in one go, with and without examples. */
export function benchCheck(): CheckTime[] {
  const document = repeated(CHECKED_RULES);
  return EXAMPLES.map((examples) => {
    const value = JSON.stringify(withExamples(document, examples));
    const [wall, cpu]: [number[], number[]] = [[], []];
    for (let round = -WARM_UP; round < CHECK_ROUNDS; round += 1) {
      const raw: unknown = JSON.parse(value);
      const started = performance.now();
      const spent = cpuMilliseconds(() => {
        const checked = checkRuleSet(raw);
        if (!checked.ok) throw new Error(JSON.stringify(checked.faults.slice(0, 3), null, 2));
      });
      if (round < 0) continue;
      wall.push(performance.now() - started);
      cpu.push(spent);
    }
    return { rules: CHECKED_RULES, examples, wallMs: median(wall), cpuMs: median(cpu) };
  });
}
