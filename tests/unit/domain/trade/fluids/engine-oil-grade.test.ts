import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  ENGINE_OIL_GRADE,
  engineOilGrade,
  engineOilHotGrade,
} from '../../../../../src/domain/trade/fluids/engine-oil-grade.ts';
import { hotGradesOfKv100 } from '../../../../../src/domain/trade/fluids/engine-oil-grade-table.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

describe('engineOilGrade', () => {
  it.each([
    ['15W-50', '15W', '50'],
    ['5w40', '5W', '40'],
    ['0W 20', '0W', '20'],
    ['10W–60', '10W', '60'],
    ['SAE 20W-50', '20W', '50'],
    ['SAE 30', undefined, '30'],
    ['40', undefined, '40'],
    ['10W', '10W', undefined],
    ['25W-30', '25W', '30'],
    ['15W-8', '15W', '8'],
  ])('reads %s', (text, winter, hot) => {
    const grade = engineOilGrade(text);
    expect([grade.winter?.name, grade.hot?.name]).toEqual([winter, hot]);
  });

  it.each([
    ['', 'bad-form'],
    ['thick', 'bad-form'],
    ['5W-40W', 'bad-form'],
    ['5W--40', 'bad-form'],
    ['-40', 'bad-form'],
    ['17W-50', 'unknown-winter-grade'],
    ['15W-45', 'unknown-hot-grade'],
    ['75W-90', 'unknown-winter-grade'],
    ['90', 'unknown-hot-grade'],
    ['0', 'unknown-hot-grade'],
    // a 25W has 9.3 mm²/s at least, a 20 less than that
    ['25W-20', 'no-such-pair'],
    ['25W-16', 'no-such-pair'],
  ])('refuses %j as %s', (text, code) => {
    expect(faultsOf(() => engineOilGrade(text))).toMatchObject([{ pointer: '/grade', code }]);
    expect(engineOilHotGrade(text)).toBeUndefined();
  });

  it('a pair has the higher of the two minimums', () => {
    expect(engineOilGrade('15W-8')).toMatchObject({ kv100Min: 5.6, kv100Below: 6.1 });
    expect(engineOilGrade('10W')).toMatchObject({ kv100Min: 4.1, kv100Below: undefined });
  });

  it('the edition of 1999 has nothing below 20', () => {
    expect(faultsOf(() => engineOilGrade('0W-16', '1999'))).toMatchObject([{ code: 'unknown-hot-grade' }]);
    expect(engineOilGrade('0W-20', '1999').kv100Min).toBe(5.6);
  });

  it('a 40 shears less thin with a winter grade of 15W and up', () => {
    const hths = (text: string) => engineOilGrade(text).hot?.limits.hths150Min;
    expect(['0W-40', '5W-40', '10W-40', '15W-40', '20W-40', '25W-40', '40'].map(hths)).toEqual([
      3.5, 3.5, 3.5, 3.7, 3.7, 3.7, 3.7,
    ]);
  });
});

describe('engineOilHotGrade', () => {
  it('is the number behind the dash', () => {
    expect(['0W-8', '15W-50', 'SAE 30', '10W'].map(engineOilHotGrade)).toEqual([8, 50, 30, undefined]);
  });
});

describe('hotGradesOfKv100', () => {
  it('upper bounds are exclusive', () => {
    expect(hotGradesOfKv100(12.5, '2015')).toEqual(['40']);
    expect(hotGradesOfKv100(12.499, '2015')).toEqual(['30']);
    expect(hotGradesOfKv100(26.1, '2015')).toEqual([]);
    expect(hotGradesOfKv100(3.9, '2015')).toEqual([]);
  });

  it('has one grade from 8.2 up, up to three below', () => {
    expect(hotGradesOfKv100(7, '2015')).toEqual(['12', '16', '20']);
    fc.assert(
      fc.property(fc.double({ min: 8.2, max: 26.09, noNaN: true }), (kv) => {
        expect(hotGradesOfKv100(kv, '2015')).toHaveLength(1);
      }),
    );
  });

  it('thicker oil is never of a thinner grade', () => {
    const kv = fc.double({ min: 4, max: 26, noNaN: true });
    fc.assert(
      fc.property(kv, kv, (a, b) => {
        const [thin, thick] = [Math.min(a, b), Math.max(a, b)];
        const most = (value: number) => Math.max(...hotGradesOfKv100(value, '2015').map(Number));
        expect(most(thick)).toBeGreaterThanOrEqual(most(thin));
      }),
    );
  });
});

describe('engine-oil-grade', () => {
  const run = (body: object) => runCalculation(ENGINE_OIL_GRADE, { grade: '15W-50', ...body });

  it('works its example', () => {
    expect(runCalculation(ENGINE_OIL_GRADE, ENGINE_OIL_GRADE.example).result).toEqual({
      winter: { name: '15W', crankingMax: 7000, crankingC: -20, pumpingC: -25 },
      hot: { name: '50', hths150Min: 3.7 },
      kv100Min: 16.3,
      kv100Below: 21.9,
      hotGradesOfKv100: [],
      inGrade: null,
      meetsMinimum: true,
    });
  });

  it('compares a measured viscosity and a wanted grade', () => {
    expect(run({ kv100: 15.1 }).result).toMatchObject({ inGrade: false, hotGradesOfKv100: ['40'] });
    expect(run({ kv100: 17.5 }).result.inGrade).toBe(true);
    expect(run({ grade: '0W-20', minimumHotGrade: 40 }).result.meetsMinimum).toBe(false);
    expect(run({ grade: '10W', minimumHotGrade: 40 }).result).toMatchObject({ hot: null, meetsMinimum: false });
  });

  it('says what of 1999 is from memory', () => {
    expect(run({ edition: '1999' }).assumptions.map(({ standing }) => standing)).toEqual(['from-memory']);
    expect(run({}).assumptions).toEqual([]);
  });
});
