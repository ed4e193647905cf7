import { expect, test } from 'vitest';
import { claimedTwice, doubtsOf, type ToAddUp } from '../../../../src/domain/foresight/adds-up.ts';

const WHEELS = ['FL', 'FR', 'RL', 'RR'];
const pads = (mm: number, off = 0.1) =>
  Object.fromEntries(
    WHEELS.flatMap((wheel, at) => [
      [`${wheel}.in`, mm + at * off],
      [`${wheel}.out`, mm + 0.2 + at * off],
    ]),
  );
const treads = (mm: number, off = 0.1) =>
  Object.fromEntries(
    WHEELS.flatMap((wheel, at) => ['in', 'mid', 'out'].map((part) => [`${wheel}.${part}`, mm + at * off])),
  );

const HONEST: ToAddUp = {
  driven: 4,
  before: { padMm: pads(9), treadMm: treads(5) },
  now: { padMm: pads(7.8, 0.12), treadMm: treads(4.5, 0.09) },
};
const codes = (car: ToAddUp) => doubtsOf(car).map(({ code, of }) => `${of}: ${code}`);

test('an honest car is not asked anything', () => {
  expect(codes(HONEST)).toEqual([]);
});

test('pads and tyres do not grow, unless they are new', () => {
  const grown = { ...HONEST, now: { padMm: { ...pads(7.8), 'FL.in': 10.4 }, treadMm: treads(6.5, 0.13) } };
  expect(doubtsOf(grown)[0]).toEqual({ code: 'grew', of: 'pads', places: ['FL.in'] });
  expect(codes(grown)).toContain('tyres: grew');
  expect(codes({ ...grown, newSince: { pads: true, tyres: true } })).toEqual([]);
});

test('two readings of one pad may differ by what gauges do', () => {
  const read = { ...HONEST, driven: 1, now: { padMm: pads(9.3), treadMm: treads(5.2) } };
  expect(codes(read)).toEqual([]);
});

test('numbers of the last time, and one number everywhere, are not readings', () => {
  expect(codes({ ...HONEST, now: HONEST.before ?? HONEST.now })).toEqual([
    'pads: same-as-before',
    'tyres: same-as-before',
  ]);
  // not driven since: then it is as it was
  expect(codes({ ...HONEST, driven: 0, now: HONEST.before ?? HONEST.now })).toEqual([]);
  const alike = { now: { padMm: pads(8, 0), treadMm: treads(5, 0) } };
  expect(codes(alike)).toEqual(['tyres: same-everywhere']);
});

test('wear follows what was driven', () => {
  expect(codes({ ...HONEST, driven: 20, now: { padMm: pads(8.9), treadMm: treads(4, 0.11) } })).toEqual([
    'pads: worn-too-little',
  ]);
  expect(codes({ ...HONEST, driven: 2, now: { padMm: pads(3), treadMm: treads(4.7, 0.11) } })).toEqual([
    'pads: worn-too-much',
  ]);
});

test('weights, dates and the order of work', () => {
  const car = {
    ...HONEST,
    massKg: 1200,
    cornerKg: { FL: 340, FR: 350, RL: 300, RR: 330 },
    fluidChangedOn: '1998-05-01',
    builtIn: 2004,
    wheelsFittedAt: '2026-06-13T07:00:00Z',
    torqueSetAt: '2026-06-12T20:00:00Z',
  };
  expect(codes(car)).toEqual(['car: corner-weights', 'fluid: fluid-before-car', 'wheels: torque-before-wheels']);
  expect(codes({ ...car, massKg: 1290, fluidChangedOn: '2026-05-01', torqueSetAt: '2026-06-13T07:30:00Z' })).toEqual(
    [],
  );
});

test('one label or photo on two cars', () => {
  const claims = [
    { car: '7', mark: 'label 123' },
    { car: '12', mark: 'label 123' },
    { car: '7', mark: 'label 123' },
    { car: '12', mark: 'photo ab' },
  ];
  expect(claimedTwice(claims)).toEqual([{ mark: 'label 123', cars: ['7', '12'] }]);
});
