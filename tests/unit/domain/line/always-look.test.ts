import { describe, expect, test } from 'vitest';
import { alwaysLook, notLookedAt, uncheckedFindings, valuesOn } from '../../../../src/domain/line/line-judgement.ts';
import { pointsToCheck } from '../../../../src/domain/line/points-to-check.ts';
import { checkOverrides, checkRuleSet } from '../../../../src/domain/rules/check/check.ts';
import type { Finding } from '../../../../src/domain/rules/model/finding.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import type { Vehicle } from '../../../../src/domain/vehicle.ts';
import { faultsOf, makeRule, makeRuleSet } from '../rules/rules-support.ts';

const CAR: Vehicle = { description: 'Club coupé', body: 'closed', powertrain: 'combustion' };
const BATTERY: Vehicle = { description: 'Battery hatchback', powertrain: 'battery' };
const POINTS = [
  { id: 'throttle', title: 'The throttle snaps shut', items: ['engine.throttle-return'], seconds: 5 },
  { id: 'brakes', title: 'Pedal held, lights lit', items: ['brake.pedal', 'brake.lights'], seconds: 15 },
  { id: 'tyres', title: 'All four tyres', items: ['tyre.cuts-or-bulges'], seconds: 20 },
];
const LINES = makeRule({ items: ['brake.lines'], test: { kind: 'confirm', item: 'brake.lines' } });
const document = (change: Record<string, unknown> = {}) =>
  makeRuleSet({
    rules: [LINES],
    alwaysLook: POINTS,
    parameters: { alwaysLookPoints: { value: ['throttle', 'brakes'], meaning: 'What the line looks at' } },
    ...change,
  });
const rules = (change: Record<string, unknown> = {}) => ({ ruleSet: RuleSet.parse(document(change)), parameters: {} });
const ids = (points: readonly { id: string }[]) => points.map(({ id }) => id);

describe('what is looked at on every car', () => {
  test('is what the rules list, and what the group lists instead', () => {
    expect(ids(alwaysLook(rules(), CAR))).toEqual(['throttle', 'brakes']);
    const parameters = { alwaysLookPoints: { value: ['tyres'] } };
    expect(ids(alwaysLook({ ...rules(), parameters }, CAR))).toEqual(['tyres']);
    expect(ids(alwaysLook(rules({ parameters: {} }), CAR))).toEqual(['throttle', 'brakes', 'tyres']);
  });

  test('leaves out what the car does not have, and nothing by a fault in the list', () => {
    expect(ids(alwaysLook(rules(), BATTERY))).toEqual(['brakes']);
    const parameters = { alwaysLookPoints: { value: 3 } };
    expect(ids(alwaysLook({ ...rules(), parameters }, CAR))).toEqual(['throttle', 'brakes', 'tyres']);
  });

  test('is done when each item was looked at, once or at each of its places', () => {
    const points = alwaysLook(rules({ parameters: {} }), CAR);
    const open = (...checked: { item: string; position?: string }[]) =>
      notLookedAt(points, checked, CAR).map(({ id, items }) => `${id}: ${items.join()}`);
    const some = [{ item: 'engine.throttle-return' }, { item: 'brake.pedal' }];
    const wheels = ['FL', 'FR', 'RL'].map((position) => ({ item: 'tyre.cuts-or-bulges', position }));
    expect(open(...some, ...wheels)).toEqual(['brakes: brake.lights', 'tyres: tyre.cuts-or-bulges']);
    const rest = [{ item: 'brake.lights' }, { item: 'tyre.cuts-or-bulges', position: 'RR' }];
    expect(open(...some, ...wheels, ...rest)).toEqual([]);
    expect(open(...some, { item: 'brake.lights' }, { item: 'tyre.cuts-or-bulges' })).toEqual([]);
  });

  test('stands before what rules ask, and takes over why a rule asks for the same', () => {
    const { position: _, ...whole } = NEAR;
    const finding = { ...whole, items: ['brake.lights'], clearedBy: 'look' as const, message: 'One lamp is out.' };
    const points = pointsToCheck([finding], new Map(), CAR, { always: alwaysLook(rules(), CAR) });
    expect(points.slice(0, 3).map(({ item, asked, why }) => [item, asked, why])).toEqual([
      ['engine.throttle-return', 'always', 'The throttle snaps shut'],
      ['brake.pedal', 'always', 'Pedal held, lights lit'],
      ['brake.lights', 'always', 'One lamp is out.'],
    ]);
  });
});

describe('the check of a rule set', () => {
  test.each([
    [{ alwaysLook: [{ ...POINTS[0], items: ['no.such'] }] }, '/alwaysLook/0/items/0 unknown-item'],
    [{ alwaysLook: [{ ...POINTS[0], items: ['oil.grade'] }] }, '/alwaysLook/0/items/0 type-clash'],
    [{ alwaysLook: [POINTS[0], POINTS[0]] }, '/alwaysLook/1/id duplicate-id'],
    [{ alwaysLook: [{ ...POINTS[0], seconds: 0 }] }, '/alwaysLook/0/seconds bad-shape'],
  ])('names what is wrong with a point: %#', (change, fault) => {
    expect(faultsOf(document({ parameters: {}, ...change }))).toEqual([fault]);
  });

  test('names a point that is listed and not there, of the rules and of a group', () => {
    const parameters = { alwaysLookPoints: { value: ['throttle', 'wings'], meaning: 'What the line looks at' } };
    expect(faultsOf(document({ parameters }))).toEqual(['/parameters/alwaysLookPoints/value unknown-option']);
    const { ruleSet } = rules();
    const found = checkOverrides(ruleSet, { alwaysLookPoints: { value: ['wings'] } });
    expect(found.map(({ pointer, code }) => `${pointer} ${code}`)).toEqual(['/alwaysLookPoints/value unknown-option']);
  });

  test('warns where nothing is looked at on every car', () => {
    const warnings = (raw: unknown) => checkRuleSet(raw).warnings.map(({ code }) => code);
    expect(warnings(makeRuleSet({ rules: [LINES] }))).toContain('no-always-look');
    expect(warnings(document())).not.toContain('no-always-look');
  });
});

const NEAR: Finding = {
  ruleId: 'pad-thickness',
  title: 'Pads',
  position: 'FL.in',
  result: 'unanswerable',
  effect: 'bar',
  counts: 'inspect',
  items: ['pad.thickness'],
  basis: { kind: 'common-practice' },
  message: 'Too close to call',
  fix: 'The line measures it.',
  clearedBy: 'measure',
};

describe('a finding that rests on a number', () => {
  const open = (finding: Finding, ...checked: { item: string; position?: string; measured?: boolean }[]) =>
    uncheckedFindings([finding], checked, valuesOn(CAR)).length;

  test('is cleared by a value at its place, not by a tick', () => {
    expect(open(NEAR, { item: 'pad.thickness', position: 'FL.in' })).toBe(1);
    expect(open(NEAR, { item: 'pad.thickness' })).toBe(1);
    expect(open(NEAR, { item: 'pad.thickness', position: 'FR.in', measured: true })).toBe(1);
    expect(open(NEAR, { item: 'pad.thickness', position: 'FL.in', measured: true })).toBe(0);
  });

  test('of the whole car is cleared by values at all places', () => {
    const { position: _, ...whole } = NEAR;
    const all = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];
    const values = all.map((position) => ({ item: 'pad.thickness', position, measured: true }));
    expect(open(whole, ...values)).toBe(0);
    expect(open(whole, ...values.slice(1))).toBe(1);
  });

  test('with other things in it is cleared by the values alone', () => {
    const oil = { ...NEAR, items: ['oil.level.reading', 'oil.level.at-operating-temperature'] };
    const { position: _, ...whole } = oil;
    expect(open(whole, { item: 'oil.level.reading', measured: true })).toBe(0);
    expect(open(whole, { item: 'oil.level.at-operating-temperature', measured: true })).toBe(1);
  });

  test('that has no number and is to be measured is cleared by a new answer', () => {
    const { position: _, ...whole } = { ...NEAR, items: ['oil.level.at-operating-temperature'] };
    expect(open(whole, { item: 'oil.level.at-operating-temperature' })).toBe(1);
    expect(open(whole, { item: 'oil.level.at-operating-temperature', measured: true })).toBe(0);
  });

  test('of what only the entrant knows is cleared by a look', () => {
    const { position: _, ...whole } = { ...NEAR, items: ['brake-fluid.wet-boiling-point'] };
    expect(open(whole, { item: 'brake-fluid.wet-boiling-point' })).toBe(0);
  });

  test('asks for the value at each place among the points', () => {
    const points = pointsToCheck([NEAR], new Map(), CAR);
    expect(points[0]).toMatchObject({ item: 'pad.thickness', position: 'FL.in', asked: 'rule', needsValue: true });
  });
});
