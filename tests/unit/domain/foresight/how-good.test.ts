import { describe, expect, test } from 'vitest';
import {
  calibrate,
  forecastsOf,
  insideOf,
  type KindLooks,
  type MeasuredPads,
  repeatedFaults,
  shareOf,
} from '../../../../src/domain/foresight/how-good.ts';
import { openRandom } from '../../../../src/domain/foresight/random.ts';

describe('a share of few', () => {
  // Newcombe 1998, comparison of seven methods, method 3 (score), 95 %: from memory
  test.each([
    [81, 263, 0.2553, 0.3662],
    [15, 148, 0.0624, 0.1605],
    [0, 20, 0, 0.1611],
    [1, 29, 0.0061, 0.1718],
  ])('of %i in %i lies between %f and %f', (count, of, low, high) => {
    const share = shareOf(count, of, 1.959964);
    expect(share.low).toBeCloseTo(low, 4);
    expect(share.high).toBeCloseTo(high, 4);
  });

  // What defines the interval: at its ends the share found is exactly z of their own standard errors away (Wilson 1927).
  test.each([
    [3, 17],
    [40, 41],
    [5, 1000],
  ])('of %i in %i has ends that are z of their own errors away', (count, of) => {
    const z = 1.6448536269514722;
    const { low, high } = shareOf(count, of);
    for (const end of [low, high])
      expect(Math.abs(count / of - end)).toBeCloseTo(z * Math.sqrt((end * (1 - end)) / of), 9);
  });

  test('of none at all may be anything', () => {
    expect(shareOf(0, 0)).toEqual({ count: 0, of: 0, low: 0, high: 1 });
  });
});

describe('chances', () => {
  const world = (seed: number, told: (chance: number) => number) => {
    const random = openRandom(seed);
    return Array.from({ length: 4000 }, () => {
      const chance = random.uniform() ** 2 * 0.6;
      return { chance: told(chance), happened: random.uniform() < chance };
    });
  };

  test('that are true lie on what came, and score better than one chance for all', () => {
    const { bins, score, plainScore, isEnough } = calibrate(world(11, (chance) => chance));
    expect(isEnough).toBe(true);
    expect(bins).toHaveLength(10);
    const off = bins.filter(({ chance, share }) => chance < share.low || chance > share.high);
    // of ten intervals of 90 % one is off on the whole
    expect(off.length).toBeLessThanOrEqual(3);
    expect(score).toBeLessThan(plainScore);
  });

  test('that are three times too high do not', () => {
    const { bins, score, plainScore } = calibrate(world(12, (chance) => Math.min(1, chance * 3)));
    const off = bins.filter(({ chance, share }) => chance > share.high);
    expect(off.length).toBeGreaterThan(6);
    expect(score).toBeGreaterThan(plainScore);
  });

  // worked by hand: (0.2 - 0)² and (0.6 - 1)² are 0.04 and 0.16; half of them each is 0.1, and 0.25 for who says one half
  test('have the mean square as their score', () => {
    const { score, plainScore, isEnough } = calibrate([
      { chance: 0.2, happened: false },
      { chance: 0.6, happened: true },
    ]);
    expect(score).toBeCloseTo(0.1, 12);
    expect(plainScore).toBeCloseTo(0.25, 12);
    expect(isEnough).toBe(false);
  });

  test('that are alike are one group, however many', () => {
    const said = Array.from({ length: 200 }, (_, i) => ({ chance: i < 150 ? 0.1 : 0.3, happened: i % 10 === 0 }));
    expect(calibrate(said).bins).toMatchObject([
      { chance: expect.closeTo(0.1, 9), share: { count: 15, of: 150 } },
      { chance: expect.closeTo(0.3, 9), share: { count: 5, of: 50 } },
    ]);
  });

  test('of nothing are nothing', () => {
    expect(calibrate([])).toMatchObject({ bins: [], score: 0, isEnough: false });
  });
});

describe('wear', () => {
  const event = (month: number, mm: Record<string, number>): MeasuredPads => ({
    startsOn: `2026-0${month}-10`,
    endsOn: `2026-0${month}-10`,
    sessions: [],
    mm,
  });

  test('is forecast from what was measured before, and not over new pads', () => {
    const forecasts = forecastsOf([
      event(3, { 'FL.in': 10 }),
      event(4, { 'FL.in': 8.8 }),
      event(5, { 'FL.in': 7.7, 'FR.in': 7 }),
      event(6, { 'FL.in': 12 }),
      event(7, { 'FL.in': 10.9 }),
    ]);
    expect(forecasts.map(({ measured }) => measured)).toEqual([8.8, 7.7, 10.9]);
    for (const { low, middle, high } of forecasts)
      expect([low, middle, high]).toEqual([low, middle, high].toSorted((a, b) => a - b));
    expect(insideOf(forecasts)).toMatchObject({ count: 3, of: 3 });
  });

  test('that is far from the usual is seen to lie outside', () => {
    const falling = forecastsOf([event(3, { 'FL.in': 12 }), event(4, { 'FL.in': 11 }), event(5, { 'FL.in': 1 })]);
    expect(insideOf(falling).count).toBeLessThan(2);
  });
});

describe('the same fault on the same kind of car', () => {
  const looks = (kind: string, cars: string[], events: string[], looked: number, wrong: number): KindLooks => ({
    item: 'coolant.hoses',
    kind,
    cars,
    events,
    looked,
    wrong,
  });
  const others = looks('coupé', ['x'], ['1'], 200, 2);

  test('is told from three cars and two events on, with how often it is elsewhere', () => {
    const [found, ...more] = repeatedFaults([looks('roadster', ['a', 'b', 'c'], ['1', '2'], 9, 4), others]);
    expect(more).toEqual([]);
    expect(found).toMatchObject({ kind: 'roadster', cars: 3, events: 2, share: { count: 4, of: 9 } });
    expect(found?.elsewhere).toMatchObject({ count: 2, of: 200 });
  });

  test.each([
    ['two cars', looks('roadster', ['a', 'b'], ['1', '2'], 9, 4)],
    ['one event', looks('roadster', ['a', 'b', 'c'], ['1'], 9, 4)],
    ['no more often than elsewhere', looks('roadster', ['a', 'b', 'c'], ['1', '2'], 300, 4)],
  ])('is not told of %s', (_, found) => {
    expect(repeatedFaults([found, others])).toEqual([]);
  });
});
