import { createRequire } from 'node:module';
import { celEnv, parse, plan } from '@bufbuild/cel';
import { Environment } from '@marcbachmann/cel-js';
import type { AnswerValue } from '../../src/domain/declaration/declaration.ts';
import { compileRuleSet, evaluate } from '../../src/domain/rules/judge/evaluate.ts';
import type { JudgeInput } from '../../src/domain/rules/judge/run.ts';
import { RuleSet } from '../../src/domain/rules/model/rule-set.ts';
import { makeBenchCars } from './rules-bench-cars.ts';
import { CHOICES, CONFIRMED, LIMITED, makeBenchRuleSet, RANGED, type Scheme } from './rules-bench-set.ts';
import { cellsOf, cpuMilliseconds, median } from './rules-bench-support.ts';

// What the evaluators in use elsewhere make of the rules that all of them can say: one condition for each place of an answer.

export interface PeerBench {
  rules: number;
  conditions: number;
  /** cars a second of processor time, ours with whole findings, the others with nothing but yes or no */
  oursPerSecond: number;
  peers: { name: string; perSecond: number; ratio: number }[];
}

type Values = Record<string, AnswerValue>;
type Judge = (values: Values) => boolean;
/** A condition on one value. */
interface Condition {
  ruleId: string;
  position: string | undefined;
  cell: string;
  /** name of the value in the other languages */
  name: string;
  cel: string;
  logic: unknown;
}

const list = (values: readonly string[]) => `[${values.map((value) => JSON.stringify(value)).join(', ')}]`;
const double = (value: number) => (Number.isInteger(value) ? `${value}.0` : String(value));

interface Said {
  item: string;
  field?: string | undefined;
  scheme: Scheme;
  cel(name: string): string;
  logic(name: string): unknown;
}

const SAID: readonly Said[] = [
  ...CONFIRMED.map(
    (item): Said => ({
      item,
      scheme: 'car',
      cel: (name) => `${name} == true`,
      logic: (name) => ({ '===': [{ var: name }, true] }),
    }),
  ),
  ...CHOICES.map(
    ({ item, scheme, accepted, negate }): Said => ({
      item,
      scheme,
      cel: (name) => (negate === true ? `!(${name} in ${list(accepted)})` : `${name} in ${list(accepted)}`),
      logic: (name) =>
        negate === true ? { '!': { in: [{ var: name }, accepted] } } : { in: [{ var: name }, accepted] },
    }),
  ),
  ...LIMITED.map(
    ({ item, field, scheme, atLeast, limit }): Said => ({
      item,
      field,
      scheme,
      cel: (name) => `${name} ${atLeast ? '>=' : '<='} ${double(limit)}`,
      logic: (name) => ({ [atLeast ? '>=' : '<=']: [{ var: name }, limit] }),
    }),
  ),
  ...RANGED.map(
    ({ item, scheme, from, to }): Said => ({
      item,
      scheme,
      cel: (name) => `${name} >= ${double(from)} && ${name} <= ${double(to)}`,
      logic: (name) => ({ '<=': [from, { var: name }, to] }),
    }),
  ),
];
const KINDS = new Set(['confirm', 'one-of', 'none-of', 'limit', 'range']);

/** The bench's rules that the others can say too, in the order of `SAID`. */
function sharedRules(): RuleSet {
  const whole = RuleSet.parse(makeBenchRuleSet());
  const rules = whole.rules.filter(({ test }) => KINDS.has(test.kind) && !JSON.stringify(test).includes('"vehicle"'));
  if (rules.length !== SAID.length) throw new Error(`${rules.length} rules, ${SAID.length} said`);
  return { ...whole, rules };
}

function conditionsOf(rules: RuleSet): Condition[] {
  const names = new Map<string, string>();
  return SAID.flatMap(({ item, field, scheme, cel, logic }, at) =>
    cellsOf(item, scheme, field).map(({ position, cell }): Condition => {
      const name = names.get(cell) ?? `v${names.size}`;
      names.set(cell, name);
      return { ruleId: rules.rules[at]?.id ?? '', position, cell, name, cel: cel(name), logic: logic(name) };
    }),
  );
}

// The package ships no types.
const jsonLogic = createRequire(import.meta.url)('json-logic-js') as { apply(logic: unknown, data: Values): unknown };

/** Each parses what it can before it is asked. */
const PEERS: readonly { name: string; compile(condition: Condition): Judge }[] = [
  {
    name: 'json-logic-js',
    compile:
      ({ logic }) =>
      (values) =>
        jsonLogic.apply(logic, values) === true,
  },
  {
    name: '@marcbachmann/cel-js',
    compile: ({ cel }) => {
      const run = new Environment({ unlistedVariablesAreDyn: true }).parse(cel);
      return (values) => run(values) === true;
    },
  },
  {
    name: '@bufbuild/cel',
    compile: ({ cel }) => {
      const run = plan(celEnv(), parse(cel));
      return (values) => run(values) === true;
    },
  },
];

function valuesOf(car: JudgeInput, conditions: readonly Condition[]): Values {
  const values: Values = {};
  for (const { cell, name } of conditions) {
    const value = car.answers.get(cell);
    if (value !== undefined) values[name] = value;
  }
  return values;
}

type Compiled = readonly { condition: Condition; holds: Judge }[];

/** What nobody answered is not asked: the others would have to be taught what that means. */
function judge(compiled: Compiled, values: Values): number {
  let met = 0;
  for (const { condition, holds } of compiled) if (condition.name in values && holds(values)) met += 1;
  return met;
}

/** Every answered condition of every car must come out as in our findings, before anything is timed. */
function assertAgrees(
  name: string,
  compiled: Compiled,
  cars: readonly { car: JudgeInput; values: Values }[],
  rules: RuleSet,
) {
  const ours = compileRuleSet(rules);
  for (const { car, values } of cars) {
    const found = new Map(
      evaluate(ours, car).findings.map((one) => [`${one.ruleId}@${one.position ?? ''}`, one.result]),
    );
    for (const { condition, holds } of compiled) {
      const result = found.get(`${condition.ruleId}@${condition.position ?? ''}`);
      if (!(condition.name in values) || result === undefined) continue;
      if (holds(values) !== (result === 'met')) {
        throw new Error(`${name}: ${condition.cel} on ${String(values[condition.name])}, ours says ${result}`);
      }
    }
  }
}

const CARS = 200;
const ROUNDS = 9;

/** Ours, with whole findings, beside evaluators that only say yes or no to the same conditions, in turns in one process. */
export function benchPeers(): PeerBench {
  const rules = sharedRules();
  const ours = compileRuleSet(rules);
  const conditions = conditionsOf(rules);
  const cars = makeBenchCars(CARS).map((car) => ({ car, values: valuesOf(car, conditions) }));
  const peers = PEERS.map(({ name, compile }) => {
    const compiled = conditions.map((condition) => ({ condition, holds: compile(condition) }));
    assertAgrees(name, compiled, cars, rules);
    return { name, compiled, rates: [] as number[] };
  });
  const ourRates: number[] = [];
  const rate = (run: () => void) => (cars.length * 1000) / cpuMilliseconds(run);
  for (let round = -2; round < ROUNDS; round += 1) {
    const own = rate(() => cars.forEach(({ car }) => evaluate(ours, car)));
    if (round >= 0) ourRates.push(own);
    for (const { compiled, rates } of peers) {
      const other = rate(() => cars.forEach(({ values }) => judge(compiled, values)));
      if (round >= 0) rates.push(other);
    }
  }
  const oursPerSecond = median(ourRates);
  return {
    rules: rules.rules.length,
    conditions: conditions.length,
    oursPerSecond,
    peers: peers.map(({ name, rates }) => ({ name, perSecond: median(rates), ratio: oursPerSecond / median(rates) })),
  };
}
