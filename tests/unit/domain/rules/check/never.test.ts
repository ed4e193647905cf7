import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CATALOGUE } from '../../../../../src/domain/catalogue/catalogue.ts';
import type { Answers } from '../../../../../src/domain/declaration/declaration.ts';
import { parseAnswers } from '../../../../../src/domain/declaration/declaration.ts';
import { checkRuleSet } from '../../../../../src/domain/rules/check/check.ts';
import { evaluate } from '../../../../../src/domain/rules/judge/evaluate.ts';
import { findNever, newBudget } from '../../../../../src/domain/rules/check/never.ts';
import { RuleSet } from '../../../../../src/domain/rules/model/rule-set.ts';
import type { Vehicle } from '../../../../../src/domain/vehicle.ts';
import { arbCompleteAnswers, arbRawAnswers, arbVehicle } from '../../../../support/arbitraries.ts';
import { arbAnyRules } from '../rules-arbitraries.ts';
import { compileUnchecked, inputOf, makeRule, makeRuleSet } from '../rules-support.ts';

type Json = Record<string, unknown>;

const pad = (limit: Json, more: Json = {}): Json => ({
  items: ['pad.thickness'],
  test: { kind: 'limit', item: 'pad.thickness', ...limit },
  ...more,
});
const THIN = pad({ atLeast: { value: 5 } });
const when = (condition: string, rule: Json = THIN): Json => ({ ...rule, when: condition });
const pedal = (kind: string, values: string[], more: Json = {}): Json => ({
  items: ['brake.pedal'],
  test: { kind, item: 'brake.pedal', values },
  ...more,
});
const expression = (items: string[], expr: string, more: Json = {}): Json => ({
  items,
  test: { kind: 'expression', expr },
  ...more,
});
const PARAMETERS = {
  least: { value: 0, unit: 'mm', meaning: 'a limit at the bound of the item' },
  level: { value: 1, meaning: 'a plain number' },
  isOn: { value: false, meaning: 'a switch' },
  listed: { value: ['firm', 'long', 'spongy', 'sinks'], meaning: 'every option' },
};

function neverOf(rule: Json): string | undefined {
  const ruleSet = RuleSet.parse(makeRuleSet({ rules: [makeRule(rule)], parameters: PARAMETERS }));
  const [parsed] = ruleSet.rules;
  return parsed && findNever(parsed, ruleSet, newBudget());
}

describe('a rule that can never fail', () => {
  it.each<[string, Json]>([
    ['at least the smallest that is possible', pad({ atLeast: { value: 0 } })],
    ['at least less than is possible', pad({ atLeast: { value: -1 } })],
    ['more than less than is possible', pad({ atLeast: { value: -0.1 }, strict: true })],
    ['at most the largest that is possible', pad({ atMost: { value: 40 } })],
    ['the same in another unit', pad({ atMost: { value: 4, unit: 'cm' } })],
    ['a parameter at the bound', pad({ atLeast: { parameter: 'least' } })],
    [
      'a range over all that is possible',
      { ...pad({}), test: { kind: 'range', item: 'pad.thickness', from: { value: 0 }, to: { value: 1, unit: 'm' } } },
    ],
    [
      'a spread as large as the range',
      { ...pad({}), test: { kind: 'spread', item: 'pad.thickness', atMost: { value: 40 } } },
    ],
    ['one of all options', pedal('one-of', ['firm', 'long', 'spongy', 'sinks'])],
    ['what the condition has made sure of', pedal('none-of', ['long'], { when: 'brake.pedal == "firm"' })],
    ['a limit that the condition keeps', when('pad.thickness >= q(5, "mm")')],
    ['a yes/no that the condition keeps', when('brake.lines', { ...confirm('brake.lines') })],
    ['answered or not', expression(['brake.pedal'], 'has(brake.pedal) || !has(brake.pedal)')],
    ['true', expression(['brake.pedal'], 'true')],
    [
      'every position at least the smallest',
      expression(['pad.thickness'], 'pad.thickness.all(p, pad.thickness[p] >= q(0, "mm"))'),
    ],
    ['an option of all', expression(['brake.pedal'], 'brake.pedal in ["firm", "long", "spongy", "sinks"]')],
    ['a number of the rule set', expression(['brake.pedal'], 'params.level < 2.0 || brake.pedal == "firm"')],
  ])('%s', (_, rule) => {
    expect(neverOf(rule)).toBe('never-fails');
  });

  it.each<[string, Json]>([
    ['at least a little more than possible', pad({ atLeast: { value: 0.1 } })],
    ['more than the smallest', pad({ atLeast: { value: 0 }, strict: true })],
    ['less than the largest', pad({ atMost: { value: 40 }, strict: true })],
    [
      'a limit that the record states',
      { items: ['rotor.thickness'], test: limitOf('rotor.thickness', { vehicle: 'rotorMinimumThicknessMm' }) },
    ],
    ['a list that run groups set', { ...pedal('one-of', []), test: listTest() }],
    ['all but one option', pedal('one-of', ['firm', 'long', 'spongy'])],
    ['a switch of the run group', expression(['brake.pedal'], 'params.isOn || brake.pedal == "firm"')],
    ['some position', expression(['pad.thickness'], 'pad.thickness.exists(p, pad.thickness[p] >= q(0, "mm"))')],
    ['photos', { items: ['tyre.tread'], test: { kind: 'photo', item: 'tyre.tread', atLeast: 1 } }],
    ['an old date', { items: ['oil.changed-on'], test: ageTest(36_000) }],
  ])('is not %s', (_, rule) => {
    expect(neverOf(rule)).toBeUndefined();
  });
});

function confirm(item: string): Json {
  return { items: [item], test: { kind: 'confirm', item } };
}
function limitOf(item: string, atLeast: Json): Json {
  return { kind: 'limit', item, atLeast };
}
function listTest(): Json {
  return { kind: 'one-of', item: 'brake.pedal', values: { parameter: 'listed' } };
}
function ageTest(days: number): Json {
  return { kind: 'age', item: 'oil.changed-on', atMost: { value: days, unit: 'day' } };
}

describe('a rule that can never apply', () => {
  const rotor = { items: ['rotor.thickness'], test: limitOf('rotor.thickness', { value: 5 }) };
  const clutch = { items: ['clutch-fluid.class'], test: { kind: 'none-of', item: 'clutch-fluid.class', values: [] } };

  it.each<[string, Json]>([
    ['false', when('false')],
    ['one body and another', when('vehicle.body == "open" && vehicle.body == "closed"')],
    ['iron rotors where rotors are carbon', when('vehicle.rotor == "carbon"', rotor)],
    ['a fluid that the car does not have', when('!vehicle.hydraulicClutch', withOption(clutch))],
    ['above and below', when('pad.thickness > q(5, "mm") && pad.thickness < q(3, "mm")')],
    ['at least and less than the same', when('pad.thickness >= q(5, "mm") && pad.thickness < q(5, "mm")')],
    ['beyond what is possible', when('pad.thickness > q(41, "mm")')],
    ['answered and not answered', when('has(brake.lines) && !has(brake.lines)', confirm('brake.lines'))],
    ['on and off', when('params.isOn && !params.isOn')],
    ['a number of the rule set', when('params.level > 2.0')],
    ['two positions at once', when('position == "FL.in" && position == "FR.in"')],
    ['a record that contradicts itself', when('vehicle.massKg < q(5, "kg") && vehicle.massKg > q(1000, "kg")')],
    [
      'no position that could be so',
      expression(['pad.thickness'], 'true', { when: 'pad.thickness.exists(p, pad.thickness[p] > q(60, "mm"))' }),
    ],
  ])('%s', (_, rule) => {
    expect(neverOf(rule)).toBe('never-applies');
  });

  it.each<[string, Json]>([
    ['a switch that is off', when('params.isOn')],
    ['a car that states nothing', when('!has(vehicle.body)')],
    ['carbon in front, iron behind', when('vehicle.rotor == "iron"', rotor)],
    ['a range', when('pad.thickness >= q(3, "mm") && pad.thickness < q(9, "mm")')],
    ['a date', when('event.endsOn > date("2020-01-01")')],
    ['a text', when('oil.grade == "15W-50" && oil.grade != "10W-40"')],
    [
      'every position, of which there may be none',
      when('pad.thickness.all(p, pad.thickness[p] > q(60, "mm"))', VOID()),
    ],
  ])('is not %s', (_, rule) => {
    expect(neverOf(rule)).toBeUndefined();
  });
});

function VOID(): Json {
  return expression(['pad.thickness', 'brake.lines'], 'brake.lines');
}
function withOption(rule: Json): Json {
  const item = CATALOGUE.find(({ key }) => key === 'clutch-fluid.class');
  const options = item?.answer.kind === 'choice' ? item.answer.options : [];
  return { ...rule, test: { kind: 'one-of', item: 'clutch-fluid.class', values: options.slice(0, 1) } };
}

const ATOMS = [
  'vehicle.body == "open"',
  'vehicle.body == "closed"',
  'vehicle.powertrain == "battery"',
  'vehicle.powertrain != "combustion"',
  'vehicle.hydraulicClutch',
  'vehicle.harnessPoints == 4',
  'has(vehicle.massKg)',
  'vehicle.massKg > q(1000, "kg")',
  'vehicle.massKg <= q(1000, "kg")',
  'has(brake.pedal)',
  'brake.pedal == "firm"',
  'brake.pedal in ["long", "spongy"]',
  'oil.level.reading > 0.5',
  'oil.level.reading <= 0.5',
  'oil.level.reading > 9.0',
  'coolant.cap_pressure + q(10, "kPa") > q(0, "kPa")',
  'pad.thickness.exists(p, pad.thickness[p] > q(20, "mm"))',
  'pad.thickness.all(p, pad.thickness[p] >= q(0, "mm"))',
  'max(pad.thickness) - min(pad.thickness) > q(39, "mm")',
  'params.isOn',
  'params.level > 2.0',
  'brake.lights',
];
const arbCondition = fc.letrec<{ node: string }>((tie) => ({
  node: fc.oneof(
    { depthSize: 'small', withCrossShrink: true },
    fc.constantFrom(...ATOMS),
    fc.tuple(tie('node'), fc.constantFrom('&&', '||'), tie('node')).map(([a, o, b]) => `(${a} ${o} ${b})`),
    tie('node').map((a) => `!(${a})`),
  ),
})).node;

const arbRule: fc.Arbitrary<Json> = fc.oneof(
  arbAnyRules.map(([rule = {}]) => rule),
  fc.tuple(arbAnyRules, arbCondition).map(([[rule = {}], condition]) => ({ ...rule, when: condition })),
  arbCondition.map((expr) => makeRule(expression(['pad.thickness', 'brake.pedal'], expr))),
  fc
    .tuple(arbCondition, arbCondition)
    .map(([expr, condition]) =>
      makeRule(expression(['rotor.thickness', 'clutch-fluid.class'], expr, { when: condition })),
    ),
);
const arbCar: fc.Arbitrary<{ vehicle: Vehicle; answers: Answers }> = fc
  .tuple(arbVehicle(), fc.boolean())
  .chain(([vehicle, whole]) =>
    (whole ? arbCompleteAnswers(vehicle) : arbRawAnswers(vehicle)).map((raw) => {
      const parsed = parseAnswers(raw);
      return { vehicle, answers: parsed.ok ? parsed.answers : new Map() };
    }),
  );

describe('what is flagged is so', () => {
  it('whatever the car and its answers, and whatever the switches', () => {
    const flagged: Record<string, number> = { 'never-applies': 0, 'never-fails': 0 };
    const arbFlagged = arbRule.filter((rule) => neverOf(rule) !== undefined);
    const fourCars = fc.array(arbCar, { minLength: 4, maxLength: 4 });
    fc.assert(
      fc.property(arbFlagged, fourCars, fc.boolean(), (rule, cars, isOn) => {
        const never = neverOf(rule) ?? '';
        flagged[never] = (flagged[never] ?? 0) + 1;
        const compiled = compileUnchecked(makeRuleSet({ rules: [rule], parameters: PARAMETERS }));
        for (const car of cars) {
          const parameters = { isOn: { value: isOn } };
          const input = inputOf({ ...car, measured: car.answers, parameters, stage: 'line' });
          const results = evaluate(compiled, input).findings.map(({ result }) => result);
          expect(results).not.toContain('not-met');
          if (never === 'never-applies') expect(results).not.toContain('met');
        }
      }),
      { numRuns: 150 },
    );
    expect(flagged['never-applies']).toBeGreaterThan(20);
    expect(flagged['never-fails']).toBeGreaterThan(20);
  });

  it('and a rule that fails or applies on some car is not flagged for that', () => {
    let seen = 0;
    fc.assert(
      fc.property(arbRule, arbCar, (rule, car) => {
        const compiled = compileUnchecked(makeRuleSet({ rules: [rule], parameters: PARAMETERS }));
        const { findings } = evaluate(compiled, inputOf({ ...car, measured: car.answers, stage: 'line' }));
        if (!findings.some(({ result }) => result === 'not-met')) return;
        seen += 1;
        expect(neverOf(rule)).toBeUndefined();
      }),
      { numRuns: 800 },
    );
    expect(seen).toBeGreaterThan(50);
  });
});

describe('rules made to keep the check busy', () => {
  it('are given up on instead of looked through', () => {
    const rules = Array.from({ length: 400 }, (_, at) =>
      makeRule({ ...THIN, id: `r-${at}`, when: `${ATOMS.slice(0, 15).join(' && ')} && ${at}.0 < 0.5 || false` }),
    );
    const started = performance.now();
    const checked = checkRuleSet(makeRuleSet({ rules, parameters: PARAMETERS }));
    const took = performance.now() - started;
    process.stdout.write(`400 rules with 15 conditions each: ${Math.round(took)} ms\n`);
    expect(checked.ok).toBe(false);
  });
});
