import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { ASSUMED_SERVICE_MINUTES, expectedTurn, median } from '../../../../src/domain/line/line-forecast.ts';

const NOW = new Date('2026-06-13T06:00:00Z');

describe('median', () => {
  // Textbook definition: the middle value, or the mean of the two middle ones.
  test.each([
    [[], undefined],
    [[7], 7],
    [[9, 1, 5], 5],
    [[4, 1, 3, 2], 2.5],
    [[100, 6, 8, 7], 7.5],
  ])('of %j is %j', (values, expected) => {
    expect(median(values)).toBe(expected);
  });

  test('does not reorder what it is given', () => {
    const values = [3, 1, 2];
    median(values);
    expect(values).toEqual([3, 1, 2]);
  });

  test('has at most half of the values below it and half above', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 50 }), { minLength: 1 }), (values) => {
        const middle = median(values) ?? Number.NaN;
        expect(values.filter((value) => value < middle).length).toBeLessThanOrEqual(values.length / 2);
        expect(values.filter((value) => value > middle).length).toBeLessThanOrEqual(values.length / 2);
      }),
    );
  });
});

describe('the expected turn', () => {
  test.each([
    ['the first car', 1, 1, [], 0],
    ['the third car before anything was measured', 3, 1, [], 2 * ASSUMED_SERVICE_MINUTES],
    ['the third car of two inspectors', 3, 2, [10], 10],
    ['the fourth car of two inspectors', 4, 2, [10], 10],
    ['the fifth car of two inspectors', 5, 2, [10], 20],
    ['nobody at work counts as one', 2, 0, [6], 6],
    ['one car that took an hour does not shift it', 2, 1, [6, 6, 60], 6],
  ])('%s', (_what, place, inspectors, service, minutes) => {
    expect(expectedTurn(NOW, place, inspectors, service)).toBe(
      new Date(NOW.getTime() + minutes * 60_000).toISOString(),
    );
  });

  test('never lies in the past, never gets earlier further back, nor later with one inspector more', () => {
    const place = fc.integer({ min: 1, max: 200 });
    const inspectors = fc.integer({ min: 0, max: 12 });
    const service = fc.array(fc.double({ min: 0, max: 60, noNaN: true }), { maxLength: 20 });
    fc.assert(
      fc.property(place, inspectors, service, (p, n, minutes) => {
        const turn = Date.parse(expectedTurn(NOW, p, n, minutes));
        expect(turn).toBeGreaterThanOrEqual(NOW.getTime());
        expect(Date.parse(expectedTurn(NOW, p + 1, n, minutes))).toBeGreaterThanOrEqual(turn);
        expect(Date.parse(expectedTurn(NOW, p, n + 1, minutes))).toBeLessThanOrEqual(turn);
      }),
    );
  });
});
