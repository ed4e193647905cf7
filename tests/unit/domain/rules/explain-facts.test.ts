import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Fact } from '../../../../src/domain/facts/fact.ts';
import { checkRuleSet } from '../../../../src/domain/rules/check/check.ts';
import { evaluate } from '../../../../src/domain/rules/judge/evaluate.ts';
import { explainRule } from '../../../../src/domain/rules/explain/explain.ts';
import { FACTS } from '../../../../src/domain/rules/model/facts.ts';
import { NO_CHANGES } from '../../../../src/domain/rules/overlay/overlay.ts';
import { answersOf, CAR, inputOf, makeRule, makeRuleSet } from './rules-support.ts';

// The registry belongs to the trade computations; this test adds a fact of its own, whatever they register.
const registry = FACTS as Record<string, Fact>;
beforeAll(() => {
  registry['testPadWearPerHour'] = {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    meaning: 'the wear of the pads per hour',
    source: 'of this test',
    items: [],
    compute: ({ vehicle, need }) => need(vehicle.massKg, 'The vehicle record has no massKg') && 2.5,
  };
});
afterAll(() => {
  delete registry['testPadWearPerHour'];
});

const rule = makeRule({
  items: ['pad.thickness'],
  each: 'wheel-side',
  test: { kind: 'expression', expr: 'pad.thickness >= facts.testPadWearPerHour + q(3, "mm")' },
});

function explainWith(vehicle: { massKg?: number }) {
  const checked = checkRuleSet(makeRuleSet({ rules: [rule] }));
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
  const declared = { 'pad.thickness': { 'FL.in': 5 } };
  const input = inputOf({ answers: answersOf(declared), vehicle: { ...CAR, ...vehicle } });
  const { findings } = evaluate(checked.compiled, input);
  const what = {
    compiled: checked.compiled,
    origins: NO_CHANGES,
    input,
    sent: { declared },
    findings,
    judged: findings,
  };
  const told = explainRule('rule-under-test', what);
  return { text: told?.text, at: told?.positions.find((one) => one.position === 'FL.in') };
}

test('a derived fact is shown with name, value and unit', () => {
  const { text, at } = explainWith({ massKg: 1200 });
  expect(text).toBe(
    'This must be so at each position: "Friction material thickness" is at least the wear of the pads per hour + 3 mm.',
  );
  expect(at?.facts).toEqual([
    { name: 'testPadWearPerHour', meaning: 'the wear of the pads per hour', value: 2.5, unit: 'mm' },
  ]);
  expect(at?.comparison.text).toBe('5 mm ≥ 5.5 mm is not so, short by 0.5 mm');
});

test('one that could not be derived is shown without a value, and bars', () => {
  const { at } = explainWith({});
  expect(at?.facts).toEqual([{ name: 'testPadWearPerHour', meaning: 'the wear of the pads per hour', unit: 'mm' }]);
  expect(at?.comparison.holds).toBeNull();
  expect(at?.finding.counts).toBe('bar');
  expect(at?.inWords).toContain('The vehicle record has no massKg');
});

test('the answers that a fact is worked out from are shown with it', () => {
  const old = makeRule({
    items: ['tyre.date-code'],
    each: 'wheel',
    test: { kind: 'expression', expr: 'facts.tyreAge < q(120, "month")' },
  });
  const checked = checkRuleSet(makeRuleSet({ rules: [old] }));
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
  const declared = { 'tyre.date-code': { FL: '4816' } };
  const input = inputOf({ answers: answersOf(declared) });
  const { findings } = evaluate(checked.compiled, input);
  const what = {
    compiled: checked.compiled,
    origins: NO_CHANGES,
    input,
    sent: { declared },
    findings,
    judged: findings,
  };
  const at = explainRule('rule-under-test', what)?.positions.find((one) => one.position === 'FL');
  expect(at?.inputs).toMatchObject([{ item: 'tyre.date-code', position: 'FL', sent: '4816', by: 'entrant' }]);
  expect(at?.facts).toMatchObject([{ name: 'tyreAge@FL', value: 120, unit: 'month' }]);
  expect(at?.inWords).not.toBe('');
});
