import { expect, test } from 'vitest';
import { LAST_SAFE_SESSION } from '../../../../src/domain/foresight/last-safe-session.ts';
import { lastSafeSession, WEAR_HABITS, wearBand } from '../../../../src/domain/foresight/wear-band.ts';

const HABIT = { middleMm: 0.3, between: 0.5, within: 0.3, reading: 0.15 };
const straight = (rate: number, count: number) =>
  Array.from({ length: count }, (_, at) => ({ sessions: 2 * at, mm: 11 - rate * 2 * at }));

test('a long straight history goes on straight', () => {
  const { low, middle, high } = wearBand(straight(0.4, 12), 5, HABIT);
  expect(middle).toBeCloseTo(11 - 0.4 * 22 - 2, 0);
  expect(low).toBeLessThan(middle);
  expect(high).toBeGreaterThan(middle);
});

test('one reading: what such parts usually do, with a wide band', () => {
  const one = wearBand([{ sessions: 0, mm: 11 }], 10, HABIT);
  // the rate alone: quantiles of a lognormal, 0.3·e^(±1.645·0.5) mm a session
  expect(11 - one.middle).toBeGreaterThan(2.7);
  expect(11 - one.middle).toBeLessThan(3.3);
  expect(11 - one.low).toBeGreaterThan(6);
  expect(11 - one.low).toBeLessThan(8);
  const many = wearBand(straight(0.3, 12), 10, HABIT);
  expect(many.high - many.low).toBeLessThan((one.high - one.low) / 1.5);
});

test('an exact walk has the band of a normal', () => {
  // all cars alike, read without error: after n sessions the mean is r·n, the variance (r·w)²·n
  const alike = { middleMm: 0.5, between: 1e-6, within: 0.2, reading: 1e-6 };
  const { low, middle, high } = wearBand([{ sessions: 0, mm: 10 }], 4, alike);
  expect(middle).toBeCloseTo(8, 2);
  expect(high - middle).toBeCloseTo(1.644_85 * 0.1 * 2, 2);
  expect(middle - low).toBeCloseTo(1.644_85 * 0.1 * 2, 2);
});

test('sessions that a part lasts: fewer the faster it wears, none at its limit', () => {
  const fast = lastSafeSession(straight(0.5, 8), 2, HABIT);
  const slow = lastSafeSession(straight(0.2, 8), 2, HABIT);
  expect(fast).toBeGreaterThan(0);
  expect(fast).toBeLessThanOrEqual((11 - 7 - 2) / 0.5);
  expect(slow).toBeGreaterThan(2 * fast);
  expect(lastSafeSession([{ sessions: 0, mm: 2.1 }], 2, HABIT)).toBe(0);
  expect(lastSafeSession([{ sessions: 0, mm: 28 }], 20, WEAR_HABITS.rotor)).toBe(60);
});

test('the part that ends first is named, and readings out of order are refused', () => {
  const example = LAST_SAFE_SESSION.input.parse(LAST_SAFE_SESSION.example);
  const [pad] = example.parts;
  if (pad === undefined) throw new Error('the example has a pad');
  const thin = { ...pad, name: 'rear right outer pad', readings: [{ sessions: 0, thicknessMm: 4.3 }] };
  const { result } = LAST_SAFE_SESSION.compute({ ...example, parts: [pad, thin] });
  expect(result.firstToEnd).toBe('rear right outer pad');
  expect(result.lastsTheEvent).toBe(false);
  // 0.34 mm a session, 2.3 mm left: not more than six, whatever the luck
  expect(result.parts[0]?.safeSessions).toBeLessThanOrEqual(6);
  expect(result.parts[0]?.safeSessions).toBeGreaterThanOrEqual(3);
  const twice = { ...pad, readings: [...pad.readings, { sessions: 10, thicknessMm: 6 }] };
  expect(() => LAST_SAFE_SESSION.compute({ ...example, parts: [twice] })).toThrow(/count up/);
});
