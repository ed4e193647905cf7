import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  TREADWEAR_GRADE,
  treadwearGrade,
  treadwearIndex,
} from '../../../../../src/domain/trade/tyres/treadwear-grade.ts';
import { runCalculation } from '../run-calculation.ts';

describe('treadwear-grade', () => {
  it('is the next lower multiple of 20', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 300_000 }), (miles) => {
        const grade = treadwearGrade(miles);
        expect(grade % 20).toBe(0);
        expect(grade).toBeLessThanOrEqual(treadwearIndex(miles));
        expect(grade + 20).toBeGreaterThan(treadwearIndex(miles));
      }),
    );
  });

  it('an exact multiple stays', () => {
    expect([5999, 6000, 6001].map(treadwearGrade)).toEqual([0, 20, 20]);
  });

  it('compares with the minimum of a class, in km too', () => {
    const run = (body: unknown) => runCalculation(TREADWEAR_GRADE, body).result;
    expect(run({ projectedMiles: 59_999, minimumGrade: 200 }).meetsMinimum).toBe(false);
    expect(run({ projectedMiles: { value: 96_561, unit: 'km' }, minimumGrade: 200 }).meetsMinimum).toBe(true);
    expect(run({ projectedMiles: 60_000 }).meetsMinimum).toBeNull();
    expect(run(TREADWEAR_GRADE.example)).toEqual({ index: 220, grade: 220, meetsMinimum: true });
  });

  it('does not take a life below 0', () => {
    expect(TREADWEAR_GRADE.input.safeParse({ projectedMiles: -1 }).success).toBe(false);
  });
});
