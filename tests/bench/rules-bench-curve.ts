import { checkRuleSet } from '../../src/domain/rules/check.ts';
import { compileRuleSet, evaluate } from '../../src/domain/rules/evaluate.ts';
import { RuleSet } from '../../src/domain/rules/rule-set.ts';
import { makeBenchCars } from './rules-bench-cars.ts';
import { makeBenchRuleSet } from './rules-bench-set.ts';
import { cpuMilliseconds, median } from './rules-bench-support.ts';

/** What one rule of a rule set of this size costs, processor time. */
export interface CurvePoint {
  rules: number;
  microsecondsPerCar: number;
  microsecondsPerRule: number;
}

/** The static check of a rule set, milliseconds. */
export interface CheckTime {
  rules: number;
  examples: number;
  wallMs: number;
  cpuMs: number;
}

const SIZES = [120, 250, 500, 1000, 2000] as const;
const CARS = 100;
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
    return { ...rule, id: `rule-${index}` };
  });
  return { ...document, rules };
}

/** Judges the same cars under rule sets of growing size, sizes in turns; medians. A straight line is the aim. */
export function benchCurve(): CurvePoint[] {
  const cars = makeBenchCars(CARS);
  const sets = SIZES.map((size) => ({ size, compiled: compileRuleSet(repeated(size)), times: [] as number[] }));
  for (let round = -WARM_UP; round < CURVE_ROUNDS; round += 1) {
    for (const { size, compiled, times } of sets) {
      // as many rules judged at each size, so that no point is measured on less work than another
      const turns = Math.round((SIZES[SIZES.length - 1] ?? size) / size);
      const spent = cpuMilliseconds(() => {
        for (let turn = 0; turn < turns; turn += 1) for (const car of cars) evaluate(compiled, car);
      });
      if (round >= 0) times.push((spent * 1000) / (turns * CARS));
    }
  }
  return sets.map(({ size, times }) => {
    const microsecondsPerCar = median(times);
    return { rules: size, microsecondsPerCar, microsecondsPerRule: microsecondsPerCar / size };
  });
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
