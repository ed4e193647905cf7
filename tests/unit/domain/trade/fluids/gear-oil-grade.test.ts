import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  GEAR_OIL_GRADE,
  gearGradeOfKv100,
  gearOilGrade,
} from '../../../../../src/domain/trade/fluids/gear-oil-grade.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

describe('gearOilGrade', () => {
  it.each([
    ['75W-90', '75W', '90'],
    ['80w140', '80W', '140'],
    ['SAE 250', undefined, '250'],
    ['70W', '70W', undefined],
  ])('reads %s', (text, winter, hot) => {
    const grade = gearOilGrade(text);
    expect([grade.winter?.name, grade.hot?.name]).toEqual([winter, hot]);
  });

  it.each([
    ['', 'bad-form'],
    ['ATF', 'bad-form'],
    ['5W-40', 'unknown-winter-grade'],
    ['75W-100', 'unknown-hot-grade'],
    ['50', 'unknown-hot-grade'],
    // an 85W has 11 mm²/s at least, an 80 less than that
    ['85W-80', 'no-such-pair'],
    ['80W-75', 'no-such-pair'],
  ])('refuses %j as %s', (text, code) => {
    expect(faultsOf(() => gearOilGrade(text))).toMatchObject([{ pointer: '/grade', code }]);
  });

  it('there was no 110 and no 190 before 2005', () => {
    for (const grade of ['75W-110', '190']) {
      expect(faultsOf(() => gearOilGrade(grade, 'before-2005'))).toMatchObject([{ code: 'unknown-hot-grade' }]);
    }
    expect(gearOilGrade('75W-90', 'before-2005').kv100Below).toBe(24);
  });
});

describe('gearGradeOfKv100', () => {
  it('exactly one grade from 3.8 up', () => {
    fc.assert(
      fc.property(fc.double({ min: 3.8, max: 200, noNaN: true }), (kv) => {
        const name = gearGradeOfKv100(kv);
        expect(name).toBeDefined();
        const { kv100Min, kv100Below } = gearOilGrade(name ?? '');
        expect(kv >= kv100Min && kv < (kv100Below ?? Number.POSITIVE_INFINITY)).toBe(true);
      }),
    );
  });

  it('upper bounds are exclusive, and outside what we know there is none', () => {
    expect([18.49, 18.5, 23.99, 24, 41].map((kv) => gearGradeOfKv100(kv))).toEqual(['90', '110', '110', '140', '250']);
    expect(gearGradeOfKv100(3.7)).toBeUndefined();
    expect([13.4, 41].map((kv) => gearGradeOfKv100(kv, 'before-2005'))).toEqual([undefined, undefined]);
  });
});

describe('gear-oil-grade', () => {
  it('works its example, by either edition', () => {
    expect(runCalculation(GEAR_OIL_GRADE, GEAR_OIL_GRADE.example).result).toEqual({
      winter: '75W',
      hot: '110',
      kv100Min: 18.5,
      kv100Below: 24,
      coldC: -40,
      gradeOfKv100: '110',
      inGrade: true,
    });
    const old = runCalculation(GEAR_OIL_GRADE, { grade: '75W-90', edition: 'before-2005', kv100: 19.5 });
    expect(old.result).toMatchObject({ gradeOfKv100: '90', inGrade: true });
    expect(old.assumptions.map(({ standing }) => standing)).toEqual(['from-memory']);
    expect(runCalculation(GEAR_OIL_GRADE, { grade: '75W-90', kv100: 19.5 }).result.inGrade).toBe(false);
  });

  it('says null where there is no limit', () => {
    expect(runCalculation(GEAR_OIL_GRADE, { grade: '250' }).result).toMatchObject({
      winter: null,
      kv100Below: null,
      coldC: null,
      gradeOfKv100: null,
      inGrade: null,
    });
  });
});
