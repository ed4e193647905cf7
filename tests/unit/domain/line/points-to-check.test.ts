import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CATALOGUE, findItem, itemApplies, positionsFor } from '../../../../src/domain/catalogue/catalogue.ts';
import { parseAnswers } from '../../../../src/domain/declaration/declaration.ts';
import { pointsToCheck } from '../../../../src/domain/line/points-to-check.ts';
import type { Finding } from '../../../../src/domain/rules/model/finding.ts';
import type { Vehicle } from '../../../../src/domain/vehicle.ts';
import { arbVehicle } from '../../../support/arbitraries.ts';

const CAR: Vehicle = { description: 'Club coupé', body: 'closed', powertrain: 'combustion' };
const NO_ANSWERS = new Map();

const finding = (change: Partial<Finding>): Finding => ({
  ruleId: 'radiator-clear',
  title: 'Radiator core',
  result: 'not-met',
  effect: 'inspect',
  counts: 'inspect',
  items: ['radiator.debris'],
  basis: { kind: 'common-practice' },
  message: 'The core is not clear.',
  fix: 'Clean it.',
  ...change,
});
const answers = (raw: unknown) => {
  const parsed = parseAnswers(raw);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.answers;
};
const cell = (point: { item: string; position?: string }) => `${point.item}@${point.position ?? ''}`;

test('what a finding asks for comes first, with the rule, the reason and what was declared', () => {
  const [first, ...rest] = pointsToCheck([finding({})], answers({ 'radiator.debris': 'some' }), CAR);
  expect(first).toEqual({
    item: 'radiator.debris',
    label: findItem('radiator.debris')?.label,
    why: 'The core is not clear.',
    asked: 'rule',
    ruleId: 'radiator-clear',
    declared: { value: 'some' },
  });
  expect(rest.some((point) => point.item === 'radiator.debris')).toBe(false);
  expect(rest.every((point) => point.ruleId === undefined && point.asked === 'usual')).toBe(true);
});

test('a finding at a position asks for that position, and a composite answer shows its parts', () => {
  const point = finding({ items: ['wheel-play.nine-three'], position: 'FL' });
  const declared = answers({ 'wheel-play.nine-three': { FL: { felt: Object.values(feltOptions())[0] } } });
  const [first] = pointsToCheck([point], declared, CAR);
  expect(first).toMatchObject({ item: 'wheel-play.nine-three', position: 'FL', declared: { felt: feltOptions()[0] } });
});

function feltOptions(): readonly string[] {
  const type = findItem('wheel-play.nine-three')?.answer;
  const felt = type?.kind === 'fields' ? type.fields['felt']?.type : undefined;
  return felt?.kind === 'choice' ? felt.options : [];
}

test('a finding without a message gives its title as the reason', () => {
  expect(pointsToCheck([finding({ message: '' })], NO_ANSWERS, CAR)[0]?.why).toBe('Radiator core');
});

test('findings that are met, bar or advise ask for nothing of their own', () => {
  const others = (['no', 'bar', 'advise'] as const).map((counts) => finding({ counts }));
  expect(pointsToCheck(others, NO_ANSWERS, CAR)).toEqual(pointsToCheck([], NO_ANSWERS, CAR));
});

test('the mark on a part that nobody knows is read, and the part measured only where nobody has', () => {
  const car = { ...CAR, rotor: { front: 'iron', rear: 'iron' } } as const;
  const lacks = finding({
    items: ['rotor.thickness'],
    position: 'FL',
    clearedBy: 'measure',
    facts: [{ path: 'rotorMinimumThicknessMm.FL', why: 'missing' }],
  });
  const asked = (raw: unknown) =>
    pointsToCheck([lacks], answers(raw), car)
      .filter((point) => point.asked === 'rule')
      .map((point) => [cell(point), point.needsValue]);
  const mark = ['car.rotorMinimumThicknessMm@FL', true];
  expect(asked({ 'rotor.thickness': { FL: 21.8 } })).toEqual([mark]);
  expect(asked({ 'rotor.thickness': { front: { basis: 'lowest-of-axle', value: 21.8 } } })).toEqual([mark]);
  expect(asked({ 'rotor.thickness': { FL: { notSure: true } } })).toEqual([mark, ['rotor.thickness@FL', true]]);
});

describe('for any car', () => {
  test('every item that the inspector answers on it stands at each of its positions, once, in catalogue order', () => {
    fc.assert(
      fc.property(arbVehicle(), (vehicle) => {
        const points = pointsToCheck([], NO_ANSWERS, vehicle);
        const expected = CATALOGUE.filter(
          (item) => item.answeredBy !== 'entrant' && item.askedAfter === undefined && itemApplies(item, vehicle),
        ).flatMap((item) =>
          (positionsFor(item, vehicle) ?? [undefined]).map((position) => `${item.key}@${position ?? ''}`),
        );
        expect(points.map(cell)).toEqual(expected);
        expect(new Set(points.map(cell)).size).toBe(points.length);
      }),
    );
  });

  test('a finding adds or moves a point and never drops one', () => {
    const entrantOnly = CATALOGUE.filter((item) => item.answeredBy === 'entrant').map((item) => item.key);
    fc.assert(
      fc.property(arbVehicle(), fc.constantFrom('radiator.debris', 'brake.pedal', ...entrantOnly), (vehicle, item) => {
        const usual = pointsToCheck([], NO_ANSWERS, vehicle).map(cell);
        const points = pointsToCheck([finding({ items: [item] })], NO_ANSWERS, vehicle).map(cell);
        expect(points[0]).toBe(`${item}@`);
        expect(usual.filter((one) => !points.includes(one))).toEqual([]);
      }),
    );
  });
});

describe('what the driver felt', () => {
  const felt = (...symptoms: string[]) => answers({ 'debrief.symptoms': symptoms });
  const why = (points: ReturnType<typeof pointsToCheck>, item: string, position?: string) =>
    points.find((point) => point.item === item && point.position === position)?.why;

  test('adds points after those of findings and before those of every car, with the reason', () => {
    const points = pointsToCheck([finding({})], felt('pulls-under-braking'), CAR);
    expect(points[0]?.item).toBe('radiator.debris');
    expect(points[1]).toMatchObject({ item: 'caliper.guides', position: 'FL' });
    expect(points[1]?.why).toMatch(/^Felt last time: pulls-under-braking: .+\.$/);
    expect(points[1]?.ruleId).toBeUndefined();
    const usual = points.findIndex((point) => point.why === 'Declared; the line checks it.');
    expect(points.slice(1, usual).every((point) => point.why.startsWith('Felt last time: '))).toBe(true);
  });

  test('is told at a point that a rule asks for, too', () => {
    const asked = finding({ ruleId: 'pads', items: ['pad.thickness'], position: 'FL.in', message: 'Thin.' });
    const points = pointsToCheck([asked], felt('pulls-under-braking'), CAR);
    expect(why(points, 'pad.thickness', 'FL.in')).toMatch(/^Thin\. Felt last time: pulls-under-braking: /);
    expect(points.filter((point) => point.item === 'pad.thickness' && point.position === 'FL.in')).toHaveLength(1);
  });

  test('asks for nothing that the car does not have, and adds nothing without symptoms', () => {
    const fixed: Vehicle = { ...CAR, caliper: { front: 'fixed', rear: 'fixed' } };
    const points = pointsToCheck([], felt('pulls-under-braking'), fixed);
    expect(points.some((point) => point.item === 'caliper.guides')).toBe(false);
    expect(pointsToCheck([], felt(), CAR)).toEqual(pointsToCheck([], NO_ANSWERS, CAR));
  });

  test('of every symptom of the catalogue points at something', () => {
    const item = findItem('debrief.symptoms');
    const options = item?.answer.kind === 'choices' ? item.answer.options : [];
    expect(options.length).toBeGreaterThan(10);
    for (const symptom of options) {
      const points = pointsToCheck([], felt(symptom), { description: 'any' });
      expect(points[0]?.why, symptom).toContain(symptom);
    }
  });
});
