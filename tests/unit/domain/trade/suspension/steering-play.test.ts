import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { NotComputable } from '../../../../../src/domain/trade/calculation.ts';
import {
  STEERING_LASH_TABLE,
  STEERING_PLAY,
  steeringLashLimit,
  withinLash,
} from '../../../../../src/domain/trade/suspension/steering-play.ts';

const arbDiameter = fc.double({ min: 150, max: 558.8, noNaN: true });
const codeOf = (diameterMm: number): string => {
  try {
    return String(steeringLashLimit(diameterMm).limitMm);
  } catch (error) {
    return error instanceof NotComputable ? `${error.faults[0]?.pointer} ${error.faults[0]?.code}` : 'threw';
  }
};
const compute = (input: unknown) => STEERING_PLAY.compute(STEERING_PLAY.input.parse(input));

describe('steeringLashLimit', () => {
  it('does not interpolate on the rows of the table', () => {
    for (const { diameterIn } of STEERING_LASH_TABLE) {
      expect(steeringLashLimit(diameterIn * 25.4).interpolated).toBe(false);
    }
  });

  it('has the first row for every wheel of 16 in and less', () => {
    expect([150, 300, 380, 406.4].map((mm) => steeringLashLimit(mm).limitMm)).toEqual([50.8, 50.8, 50.8, 50.8]);
  });

  it('draws a straight line at 17 in and says that it is ours', () => {
    const limit = steeringLashLimit(17 * 25.4);
    expect(limit).toMatchObject({ interpolated: true, rowLimitMm: 50.8 });
    expect(limit.limitMm / 25.4).toBeCloseTo(2.125, 9); // 2 1/8 in: arithmetic between the rows of 16 and 18 in
    const { assumptions, result } = compute({ wheelDiameter: { value: 17, unit: 'in' } });
    expect(assumptions[0]?.value).toContain('straight line');
    expect(result).toMatchObject({ interpolated: true, within: null, marginMm: null });
  });

  it('refuses wheels beyond the table with what applies, and wheels without a diameter', () => {
    expect([559, 560, 700, 0, -1, Number.NaN].map(codeOf)).toEqual([
      '69.85',
      '/wheelDiameter beyond-table',
      '/wheelDiameter beyond-table',
      '/wheelDiameter not-positive',
      '/wheelDiameter not-positive',
      '/wheelDiameter not-positive',
    ]);
    expect(() => steeringLashLimit(600)).toThrow(/local rule.*2 3\/4 in/u);
  });

  it('never allows a larger wheel less, nor more than the last row', () => {
    fc.assert(
      fc.property(arbDiameter, arbDiameter, (a, b) => {
        const [small, large] = a < b ? [a, b] : [b, a];
        const smallLimit = steeringLashLimit(small);
        const largeLimit = steeringLashLimit(large);
        expect(smallLimit.limitMm).toBeLessThanOrEqual(largeLimit.limitMm + 1e-9);
        expect(largeLimit.limitMm).toBeLessThanOrEqual(69.85 + 1e-9);
        expect(largeLimit.rowLimitMm).toBeLessThanOrEqual(largeLimit.limitMm + 1e-9);
      }),
    );
  });
});

describe('steering-play', () => {
  it('judges the play as it is shown', () => {
    expect(withinLash(57.15, 57.15)).toBe(true);
    expect(withinLash(57.24, 57.15)).toBe(true);
    expect(withinLash(57.3, 57.15)).toBe(false);
  });

  it('works its example', () => {
    const { result, assumptions } = compute(STEERING_PLAY.example);
    expect(result).toMatchObject({ limitMm: 57.15, within: true, marginMm: 27.2, interpolated: false });
    expect(assumptions).toEqual([]);
    expect(compute({ wheelDiameter: 380, play: 60 }).result).toMatchObject({ within: false, marginMm: -9.2 });
  });
});
