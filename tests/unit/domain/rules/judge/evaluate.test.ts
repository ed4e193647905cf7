import { describe, expect, it } from 'vitest';
import { CATALOGUE, positionsFor } from '../../../../../src/domain/catalogue/catalogue.ts';
import { evaluate } from '../../../../../src/domain/rules/judge/evaluate.ts';
import type { Vehicle } from '../../../../../src/domain/vehicle.ts';
import {
  answersOf,
  CAR,
  compileUnchecked,
  EVENT,
  inputOf,
  judge,
  judgeOne,
  makeRule,
  makeRuleSet,
} from '../rules-support.ts';

const LINES = { items: ['brake.lines'], test: { kind: 'confirm', item: 'brake.lines' } };
const BOILING = {
  items: ['brake-fluid.measured-boiling-point'],
  test: { kind: 'limit', item: 'brake-fluid.measured-boiling-point', atLeast: { value: 180, unit: '°C' } },
};
const concession = { ruleId: 'rule-under-test', concessionId: 'c-1', expiresAt: '2026-11-29T18:00:00Z' };

describe('verdict', () => {
  it.each([
    ['bar', { 'brake.lines': false }, 'barred', 'bar'],
    ['bar', {}, 'barred', 'bar'],
    ['bar', { 'brake.lines': true }, 'clean', 'no'],
    ['inspect', { 'brake.lines': false }, 'to-inspect', 'inspect'],
    ['inspect', {}, 'to-inspect', 'inspect'],
    ['advise', { 'brake.lines': false }, 'clean', 'advise'],
    ['advise', {}, 'clean', 'advise'],
  ])('of a %s rule with %j is %s', (effect, raw, verdict, counts) => {
    const judgement = judge([makeRule({ ...LINES, effect })], raw);
    expect(judgement.verdict).toBe(verdict);
    expect(judgement.findings[0]).toMatchObject({ effect, counts });
  });

  it('gives met findings without a message and others with message and fix', () => {
    expect(judgeOne(LINES, { 'brake.lines': true })).toMatchObject({ message: '', fix: '', source: 'declared' });
    expect(judgeOne(LINES, { 'brake.lines': false })).toMatchObject({
      message: 'Not as it must be',
      fix: 'Put it right',
    });
  });
});

describe('what the inspector measures', () => {
  it('wins over what was declared', () => {
    const measured = answersOf({ 'brake.lines': false });
    expect(judgeOne(LINES, { 'brake.lines': true }, { measured })).toMatchObject({
      result: 'not-met',
      source: 'measured',
    });
  });

  it('does not bar before the line, and bars at it', () => {
    expect(judgeOne(BOILING, {})).toMatchObject({ result: 'unanswerable', effect: 'bar', counts: 'inspect' });
    expect(judge([makeRule(BOILING)], {}).verdict).toBe('to-inspect');
    expect(judgeOne(BOILING, {}, { stage: 'line' })).toMatchObject({ result: 'unanswerable', counts: 'bar' });
    expect(judge([makeRule(BOILING)], {}, { stage: 'line' }).verdict).toBe('barred');
  });

  it('is not taken from the entrant where only the inspector answers', () => {
    const raw = { 'brake-fluid.measured-boiling-point': 250 };
    expect(judgeOne(BOILING, raw, { stage: 'line' })).toMatchObject({ result: 'unanswerable' });
    expect(judgeOne(BOILING, {}, { stage: 'line', measured: answersOf(raw) })).toMatchObject({
      result: 'met',
      source: 'measured',
    });
  });

  it('still bars when something of the entrant is missing too', () => {
    const expr = 'brake_fluid.measured_boiling_point >= q(180, "°C") && brake_fluid.wet_boiling_point >= q(155, "°C")';
    const rule = {
      items: ['brake-fluid.measured-boiling-point', 'brake-fluid.wet-boiling-point'],
      test: { kind: 'expression', expr },
    };
    expect(judgeOne(rule, {})).toMatchObject({ result: 'unanswerable', counts: 'bar' });
    expect(judgeOne(rule, { 'brake-fluid.wet-boiling-point': 160 })).toMatchObject({
      result: 'unanswerable',
      counts: 'inspect',
    });
    expect(judgeOne(rule, { 'brake-fluid.wet-boiling-point': 150 })).toMatchObject({
      result: 'not-met',
      counts: 'bar',
    });
  });
});

describe('concessions', () => {
  const other = makeRule({ id: 'other', items: ['brake.lights'], test: { kind: 'confirm', item: 'brake.lights' } });

  it('downgrade exactly their rule', () => {
    const rules = [makeRule(LINES), other];
    const raw = { 'brake.lines': false, 'brake.lights': true };
    const judgement = judge(rules, raw, { concessions: [concession] });
    expect(judgement.verdict).toBe('to-inspect');
    expect(judgement.findings[0]).toMatchObject({
      result: 'not-met',
      effect: 'bar',
      counts: 'inspect',
      conceded: { concessionId: 'c-1' },
    });
    expect(judge(rules, { ...raw, 'brake.lights': false }, { concessions: [concession] }).verdict).toBe('barred');
  });

  it('cover an answer that is missing, at the line as well', () => {
    expect(judgeOne(BOILING, {}, { stage: 'line', concessions: [concession] })).toMatchObject({ counts: 'inspect' });
  });

  it('change nothing on a rule that is met', () => {
    const judgement = judge([makeRule(LINES)], { 'brake.lines': true }, { concessions: [concession] });
    expect(judgement).toMatchObject({ verdict: 'clean', findings: [{ counts: 'no', conceded: undefined }] });
  });
});

describe('where a rule applies', () => {
  it('gives no finding for an item the car does not have', () => {
    const rule = makeRule({
      items: ['rotor.weight'],
      test: { kind: 'limit', item: 'rotor.weight', atLeast: { value: 900, unit: 'g' } },
    });
    const vehicle: Vehicle = { ...CAR, rotor: { front: 'iron', rear: 'iron' } };
    expect(judge([rule], {}, { vehicle })).toEqual({ verdict: 'clean', findings: [] });
  });

  it('asks where the record does not say: unknown is not "does not apply"', () => {
    const rule = makeRule({
      items: ['rotor.weight'],
      test: { kind: 'limit', item: 'rotor.weight', atLeast: { value: 900, unit: 'g' } },
    });
    expect(judge([rule], {}).findings).toHaveLength(4);
  });

  it('agrees with the catalogue on every positioned item, kind of car after kind of car', () => {
    const items = CATALOGUE.filter((item) => item.positions !== undefined);
    const rules = items.map((item, index) =>
      makeRule({
        id: `rule-${index}`,
        items: [item.key],
        each: item.positions,
        test: { kind: 'expression', expr: 'true' },
      }),
    );
    const compiled = compileUnchecked(makeRuleSet({ rules }));
    const vehicles: Vehicle[] = [
      CAR,
      { ...CAR, powertrain: 'battery' },
      { ...CAR, rotor: { front: 'carbon', rear: 'iron' }, caliper: { front: 'fixed', rear: 'floating' } },
      { ...CAR, rotor: { front: 'iron', rear: 'carbon' }, cooling: 'air' },
      { ...CAR, restraint: 'harness', harnessPoints: 4 },
      { ...CAR, restraint: 'three-point', bushing: { subframe: 'none', 'rear-upper-arm': 'spherical' } },
      { ...CAR, bushing: { subframe: 'urethane' } },
      { ...CAR, rotor: { rear: 'iron' }, damper: {} },
      { ...CAR, caliper: {}, rotor: { front: 'iron' } },
    ];
    for (const vehicle of [...vehicles, ...vehicles]) {
      const { findings } = evaluate(compiled, inputOf({ vehicle }));
      const expected = items.flatMap((item, index) =>
        (positionsFor(item, vehicle) ?? []).map((position) => `rule-${index}@${position}`),
      );
      expect(findings.map(({ ruleId, position }) => `${ruleId}@${position}`)).toEqual(expected);
    }
  });

  it('leaves a rule out where its condition is false, and keeps it where that has no answer', () => {
    const rule = makeRule({ ...LINES, when: 'vehicle.massKg > q(1000, "kg")' });
    const raw = { 'brake.lines': true };
    expect(judge([rule], raw, { vehicle: { ...CAR, massKg: 900 } }).findings).toEqual([]);
    expect(judge([rule], raw, { vehicle: { ...CAR, massKg: 1100 } }).findings[0]).toMatchObject({ result: 'met' });
    expect(judge([rule], raw).findings[0]).toMatchObject({
      result: 'unanswerable',
      message: 'The vehicle record has no massKg',
    });
  });
});

describe('parameters of a run group', () => {
  const rule = makeRule({
    items: ['oil.level.reading'],
    test: { kind: 'limit', item: 'oil.level.reading', atLeast: { parameter: 'least' } },
  });
  const inExpression = makeRule({
    items: ['coolant.cap-pressure'],
    test: { kind: 'expression', expr: 'coolant.cap_pressure >= params.least' },
  });

  it('override by name; an unknown name changes nothing', () => {
    const declaredParameters = { least: { value: 0.3, meaning: 'Least level' } };
    const raw = { 'oil.level.reading': 0.4 };
    expect(judge([rule], raw, { declaredParameters }).verdict).toBe('clean');
    expect(judge([rule], raw, { declaredParameters, parameters: { least: { value: 0.5 } } }).verdict).toBe('barred');
    expect(judge([rule], raw, { declaredParameters, parameters: { most: { value: 9 } } }).verdict).toBe('clean');
  });

  it('are read in their own unit: 1 bar is 100 kPa (NIST SP 811)', () => {
    const declaredParameters = { least: { value: 90, unit: 'kPa', meaning: 'Least pressure' } };
    const parameters = { least: { value: 1, unit: 'bar' } };
    const results = [99, 100].map(
      (pressure) =>
        judge([inExpression], { 'coolant.cap-pressure': pressure }, { declaredParameters, parameters }).verdict,
    );
    expect(results).toEqual(['barred', 'clean']);
  });

  it('of another kind or unit leave the rule without an answer', () => {
    const declaredParameters = { least: { value: 90, unit: 'kPa', meaning: 'Least pressure' } };
    for (const least of [
      { value: 'much' },
      { value: 1, unit: 'mm' },
      { value: 1, unit: 'nonsense' },
      { value: Number.NaN },
    ]) {
      const finding = judge(
        [inExpression],
        { 'coolant.cap-pressure': 100 },
        { declaredParameters, parameters: { least } },
      ).findings[0];
      expect(finding).toMatchObject({ result: 'unanswerable', message: 'Parameter "least" has no usable value' });
    }
  });

  it('count as they are at the time, when the caller changes its object between two judgements', () => {
    const compiled = compileUnchecked(
      makeRuleSet({ rules: [rule], parameters: { least: { value: 0.3, meaning: 'Least level' } } }),
    );
    const parameters = { least: { value: 0.5 } };
    const input = inputOf({ answers: answersOf({ 'oil.level.reading': 0.4 }), parameters });
    expect(evaluate(compiled, input).verdict).toBe('barred');
    parameters.least.value = 0.2;
    expect(evaluate(compiled, input).verdict).toBe('clean');
    expect(evaluate(compiled, { ...input, event: { ...EVENT, endsOn: '2026-11-30' } }).verdict).toBe('clean');
  });
});

describe('a rule that slipped through the check', () => {
  it.each([
    ['an unknown item', { items: ['nothing.here'], test: { kind: 'confirm', item: 'nothing.here' } }],
    [
      'an each without such positions',
      { items: ['brake.lines'], each: 'wheel', test: { kind: 'expression', expr: 'true' } },
    ],
    [
      'none-of over a yes/no',
      { items: ['brake.lines'], test: { kind: 'none-of', item: 'brake.lines', values: ['x'] } },
    ],
    [
      'an expression that does not compile',
      { items: ['brake.lines'], test: { kind: 'expression', expr: 'brake.lines ==' } },
    ],
    [
      'an unknown parameter',
      {
        items: ['oil.level.reading'],
        test: { kind: 'limit', item: 'oil.level.reading', atLeast: { parameter: 'none' } },
      },
    ],
    ['a condition that does not compile', { ...LINES, when: 'nothing' }],
  ])('has no answer and bars: %s', (_, rule) => {
    const compiled = compileUnchecked(makeRuleSet({ rules: [makeRule(rule)] }));
    const judgement = evaluate(
      compiled,
      inputOf({ answers: answersOf({ 'brake.lines': true, 'oil.level.reading': 1 }) }),
    );
    expect(judgement).toMatchObject({ verdict: 'barred', findings: [{ result: 'unanswerable' }] });
  });
});
