import { expect, test } from 'vitest';
import { entryDoubts, isSaidNotNew, type KnownOfEntry } from '../../../../src/domain/foresight/entry-doubts.ts';
import { pointsToCheck } from '../../../../src/domain/line/points-to-check.ts';
import { messageIn } from '../../../../src/domain/rules/says/rule-words.ts';
import { answersOf } from '../rules/rules-support.ts';

const WHEELS = ['FL', 'FR', 'RL', 'RR'];
const tenth = (mm: number): number => Math.round(mm * 10) / 10;
const pads = (mm: number): Record<string, number> =>
  Object.fromEntries(
    WHEELS.flatMap((wheel, at) => [
      [`${wheel}.in`, tenth(mm + at / 10)],
      [`${wheel}.out`, tenth(mm + 0.2 + at / 10)],
    ]),
  );
const treads = (mm: number): Record<string, number> =>
  Object.fromEntries(WHEELS.map((wheel, at) => [wheel, mm + at / 10]));

const SPRING = { startsOn: '2026-04-18', endsOn: '2026-04-19', daysBefore: 0, daysAfter: 2 };
const known = (raw: Record<string, unknown>, more: Partial<KnownOfEntry> = {}): KnownOfEntry => ({
  answers: answersOf(raw),
  vehicle: { description: 'A car' },
  earlier: [{ ...SPRING, padThicknessMm: pads(9), treadMm: treads(5) }],
  startsOn: '2026-06-13',
  sessionsPerDay: 4,
  ...more,
});
const told = (of: KnownOfEntry) =>
  entryDoubts(of).map(({ of: part, code, places }) => `${part}: ${code}: ${places.join(' ')}`);

test('a car that wore as cars do is asked nothing, and so is one that was never here', () => {
  const worn = { 'pad.thickness': pads(6.8), 'tyre.tread-lowest': treads(4.1) };
  expect(told(known(worn))).toEqual([]);
  expect(told(known(worn, { earlier: [] }))).toEqual([]);
});

test('pads and tyres that grew are asked about, at their places, until they are said to be new', () => {
  const grown = {
    'pad.thickness': { ...pads(6.8), 'FL.in': 11, 'FL.out': 11 },
    'tyre.tread-lowest': { ...treads(4.1), RL: 7 },
  };
  expect(told(known(grown))).toEqual(['pads: grew: FL.in FL.out', 'tyres: grew: RL']);
  const said = { 'pad.new-since-last': { front: true }, 'tyre.new-since-last': { rear: true, front: false } };
  expect(told(known({ ...grown, ...said }))).toEqual([]);
  const [doubt] = entryDoubts(known({ ...grown, 'pad.new-since-last': { front: false } }));
  expect(doubt).toMatchObject({ item: 'pad.thickness', mm: { before: 9.1, now: 11 } });
  expect(isSaidNotNew(doubt!, answersOf({ 'pad.new-since-last': { front: false } }))).toBe(true);
  expect(isSaidNotNew(doubt!, answersOf({}))).toBe(false);
});

test('what is known once for an axle or a wheel is compared with the lowest there', () => {
  const lowest = (mm: number) => ({ basis: 'lowest-of-axle', value: mm });
  const front = { 'pad.thickness': { front: lowest(11), rear: lowest(7) } };
  expect(told(known(front))).toEqual(['pads: grew: FL.in FL.out FR.in FR.out']);
  const zones = Object.fromEntries(
    WHEELS.flatMap((wheel) => ['inner', 'middle', 'outer'].map((zone, at) => [`${wheel}.${zone}`, 4.1 + at / 10])),
  );
  expect(told(known({ 'tyre.tread': { ...zones, 'RR.inner': 8, 'RR.middle': 8, 'RR.outer': 8 } }))).toEqual([
    'tyres: grew: RR.inner RR.middle RR.outer',
  ]);
});

test('what was written down between sessions is the newest time; what was read at this event is none', () => {
  const logged = [{ on: '2026-04-19', driven: 1.5, padThicknessMm: { front: 6.5 }, treadMm: {} }];
  const earlier = [{ ...SPRING, padThicknessMm: pads(9), treadMm: {}, logged }];
  expect(told(known({ 'pad.thickness': pads(8) }, { earlier }))).toEqual(['pads: grew: FL.in FL.out FR.in FR.out']);
  const own = { startsOn: '2026-06-13', endsOn: '2026-06-14', daysBefore: 0, daysAfter: 1, padThicknessMm: pads(3) };
  expect(told(known({ 'pad.thickness': pads(8) }, { earlier: [own] }))).toEqual([]);
});

test('corner weights that are not the mass of the car', () => {
  const corners = { 'setup.corner-weights': { FL: 340, FR: 350, RL: 300, RR: 330 } };
  expect(told(known(corners, { vehicle: { description: 'A car', massKg: 1200 } }))).toEqual([
    'car: corner-weights: FL FR RL RR',
  ]);
  expect(told(known(corners, { vehicle: { description: 'A car', massKg: 1310 } }))).toEqual([]);
});

test('what is left is a point at the line that says why, and no rule asks for it', () => {
  const of = known({ 'pad.thickness': { ...pads(6.8), 'FL.in': 11 } });
  const doubts = entryDoubts(of);
  const points = pointsToCheck([], of.answers, of.vehicle, { doubts });
  expect(points[0]).toMatchObject({
    item: 'pad.thickness',
    position: 'FL.in',
    asked: 'doubt',
    declared: { value: 11 },
  });
  expect(points[0]?.ruleId).toBeUndefined();
  expect(points[0]?.why).toContain('9 mm then, 11 mm now');
  const [german] = pointsToCheck([], of.answers, of.vehicle, { doubts, language: 'de' });
  expect(german?.why).toContain('damals 9 mm, jetzt 11 mm');
  // a point that is there for another reason has both
  const always = [{ id: 'pads', title: 'Look at the pads', items: ['pad.thickness'], seconds: 30 }];
  expect(
    pointsToCheck([], of.answers, of.vehicle, { doubts, always })
      .map(({ asked }) => asked)
      .slice(0, 2),
  ).toEqual(['always', 'doubt']);
});

test('every doubt is said in German too', () => {
  const says = [
    ...entryDoubts(known({ 'pad.thickness': { ...pads(6.8), 'FL.in': 11 } })),
    ...entryDoubts(known({ 'pad.thickness': pads(9) })),
    ...entryDoubts(
      known({ 'pad.thickness': pads(1) }, { earlier: [{ ...SPRING, daysAfter: 1, padThicknessMm: pads(9) }] }),
    ),
    ...entryDoubts(
      known({ 'pad.thickness': pads(8.9) }, { earlier: [{ ...SPRING, daysAfter: 6, padThicknessMm: pads(9) }] }),
    ),
    ...entryDoubts(
      known(
        {
          'tyre.tread': Object.fromEntries(
            WHEELS.flatMap((wheel) => ['inner', 'middle', 'outer'].map((zone) => [`${wheel}.${zone}`, 5])),
          ),
        },
        { earlier: [] },
      ),
    ),
    ...entryDoubts(
      known(
        { 'setup.corner-weights': { FL: 1, FR: 1, RL: 1, RR: 1 } },
        { vehicle: { description: 'A car', massKg: 1000 } },
      ),
    ),
  ];
  expect(new Set(says.map(({ code }) => code))).toEqual(
    new Set(['grew', 'same-as-before', 'worn-too-much', 'worn-too-little', 'same-everywhere', 'corner-weights']),
  );
  for (const { says: one } of says) expect(messageIn(one, 'de')).not.toBe(one);
});
