import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  acrossAxle,
  ALIGNMENT_COMPARE,
  compareWheels,
  type KnownWheels,
} from '../../../../../src/domain/trade/suspension/alignment-compare.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const arbAngle = fc.option(
  fc.integer({ min: -500, max: 500 }).map((value) => value / 100),
  { nil: undefined },
);
const arbWheels: fc.Arbitrary<KnownWheels> = fc.record({ FL: arbAngle, FR: arbAngle, RL: arbAngle, RR: arbAngle });
const mirror = ({ FL, FR, RL, RR }: KnownWheels): KnownWheels => ({ FL: FR, FR: FL, RL: RR, RR: RL });
const OTHER_SIDE = { FL: 'FR', FR: 'FL', RL: 'RR', RR: 'RL' } as const;
const byWheel = <T extends { wheel: string }>(list: readonly T[]): T[] =>
  list.toSorted((a, b) => a.wheel.localeCompare(b.wheel));

describe('compareWheels', () => {
  it('treats left and right alike', () => {
    fc.assert(
      fc.property(arbWheels, arbWheels, (measured, baseline) => {
        const straight = compareWheels(measured, baseline, 0.25);
        const mirrored = compareWheels(mirror(measured), mirror(baseline), 0.25);
        const back = mirrored.changes.map((change) => ({ ...change, wheel: OTHER_SIDE[change.wheel] }));
        expect(byWheel(back)).toEqual(byWheel(straight.changes));
        expect(mirrored.unknown.map((wheel) => OTHER_SIDE[wheel]).toSorted()).toEqual(straight.unknown.toSorted());
      }),
    );
  });

  it('is the other way round when the two change places', () => {
    fc.assert(
      fc.property(arbWheels, arbWheels, (measured, baseline) => {
        const there = compareWheels(measured, baseline, 0.25).changes;
        const back = compareWheels(baseline, measured, 0.25).changes;
        expect(back.map(({ within }) => within)).toEqual(there.map(({ within }) => within));
        back.forEach(({ change }, index) => expect(change + (there[index]?.change ?? Number.NaN)).toBe(0));
      }),
    );
  });

  it('stays within when the tolerance grows', () => {
    fc.assert(
      fc.property(arbWheels, arbWheels, fc.double({ min: 0, max: 2, noNaN: true }), (measured, baseline, tolerance) => {
        const strict = compareWheels(measured, baseline, tolerance).changes;
        const lenient = compareWheels(measured, baseline, tolerance + 0.5).changes;
        strict.forEach(({ within }, index) => within && expect(lenient[index]?.within).toBe(true));
      }),
    );
  });

  it('counts a change of exactly the tolerance as within, whatever binary makes of it', () => {
    expect(compareWheels({ FL: -1.35 }, { FL: -1.6 }, 0.25).changes).toMatchObject([{ change: 0.25, within: true }]);
    expect(compareWheels({ FL: -1.34 }, { FL: -1.6 }, 0.25).changes).toMatchObject([{ change: 0.26, within: false }]);
  });

  it('says nothing about a wheel known on one side only', () => {
    expect(compareWheels({ FL: 1 }, { FR: 1 }, 1)).toEqual({ changes: [], unknown: ['FL', 'FR'] });
  });
});

describe('acrossAxle', () => {
  it('is left less right, the sum for total toe, and unknown with a wheel missing', () => {
    const toe = { FL: 0.5, FR: 0.6, RL: 1 };
    expect(acrossAxle(toe, 'front', 'difference')).toBe(-0.1);
    expect(acrossAxle(toe, 'front', 'sum')).toBe(1.1);
    expect(acrossAxle(toe, 'rear', 'sum')).toBeUndefined();
  });
});

describe('the calculation', () => {
  const same = { FL: { camberDeg: -2, toeMm: 0.5 }, FR: { camberDeg: -2, toeMm: 0.5 } };

  it('finds the corner that moved', () => {
    const worked = runCalculation(ALIGNMENT_COMPARE, ALIGNMENT_COMPARE.example);
    expect(worked.result.verdict).toBe('changed');
    expect(worked.result.changes.filter((change) => !change.within)).toMatchObject([
      { wheel: 'FR', angle: 'camberDeg', change: -0.6 },
    ]);
    expect(worked.result.axles.front).toMatchObject({ totalToeMm: 1.1, toeLimitMm: 1.5, toeWithinLimit: true });
    expect(worked.result.axles.rear.totalToeMm).toBeNull();
    expect(worked.cautions).toHaveLength(1);
  });

  it('says as recorded only when everything could be compared', () => {
    expect(runCalculation(ALIGNMENT_COMPARE, { measured: same, baseline: same }).result.verdict).toBe('as-recorded');
    const less = { FL: same.FL, FR: { camberDeg: -2 } };
    const { result } = runCalculation(ALIGNMENT_COMPARE, { measured: less, baseline: same });
    expect(result.verdict).toBe('cannot-tell');
    expect(result.unknown).toEqual([{ wheel: 'FR', angle: 'toeMm' }]);
  });

  it('takes another tolerance, and names the ones it assumed', () => {
    const moved = { ...same, FR: { camberDeg: -2.4, toeMm: 0.5 } };
    const worked = runCalculation(ALIGNMENT_COMPARE, {
      measured: moved,
      baseline: same,
      tolerance: { camberDeg: 0.5 },
    });
    expect(worked.result.verdict).toBe('as-recorded');
    const names = worked.assumptions.map((assumption) => assumption.name);
    expect(names).toContain('tolerance of toe');
    expect(names).not.toContain('tolerance of camber');
  });

  it('refuses two set-ups with nothing in common', () => {
    const body = { measured: { FL: { toeMm: 1 } }, baseline: { RR: { toeMm: 1 } } };
    expect(faultsOf(() => runCalculation(ALIGNMENT_COMPARE, body))).toMatchObject([
      { pointer: '/measured', code: 'nothing-to-compare' },
    ]);
  });
});
