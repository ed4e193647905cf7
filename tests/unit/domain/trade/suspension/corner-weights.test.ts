import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  CORNER_WEIGHTS,
  cornerChangeKg,
  cornerFaults,
  cornerWeights,
  crossUncertaintyPercent,
  type FourWheels,
} from '../../../../../src/domain/trade/suspension/corner-weights.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const arbLoad = fc.double({ min: 50, max: 900, noNaN: true });
const arbCar: fc.Arbitrary<FourWheels> = fc.record({ FL: arbLoad, FR: arbLoad, RL: arbLoad, RR: arbLoad });
const mirror = ({ FL, FR, RL, RR }: FourWheels): FourWheels => ({ FL: FR, FR: FL, RL: RR, RR: RL });

describe('cornerWeights', () => {
  it('mirrors: left becomes right, and the diagonals change places', () => {
    fc.assert(
      fc.property(arbCar, (car) => {
        const [split, mirrored] = [cornerWeights(car), cornerWeights(mirror(car))];
        expect(mirrored.leftPercent).toBeCloseTo(100 - split.leftPercent, 9);
        expect(mirrored.crossPercent).toBeCloseTo(100 - split.crossPercent, 9);
        expect(mirrored.frontPercent).toBeCloseTo(split.frontPercent, 9);
      }),
    );
  });

  it('keeps the mass: both diagonals are the whole car', () => {
    fc.assert(
      fc.property(arbCar, (car) => {
        const split = cornerWeights(car);
        expect(split.frontLeftRearRightKg + split.frontRightRearLeftKg).toBeCloseTo(split.totalKg, 9);
      }),
    );
  });

  it('gives shares that do not depend on the unit', () => {
    fc.assert(
      fc.property(arbCar, fc.double({ min: 0.1, max: 10, noNaN: true }), ({ FL, FR, RL, RR }, scale) => {
        const scaled = cornerWeights({ FL: FL * scale, FR: FR * scale, RL: RL * scale, RR: RR * scale });
        expect(scaled.crossPercent).toBeCloseTo(cornerWeights({ FL, FR, RL, RR }).crossPercent, 9);
      }),
    );
  });

  it('names every wheel that shows nothing', () => {
    const faults = faultsOf(() => cornerWeights({ FL: 0, FR: 300, RL: -1, RR: Number.NaN }));
    expect(faults.map((fault) => fault.pointer)).toEqual(['/FL', '/RL', '/RR']);
  });
});

describe('cornerChangeKg', () => {
  it('reaches the cross share asked for and leaves axle and side shares alone', () => {
    fc.assert(
      fc.property(arbCar, fc.double({ min: 45, max: 55, noNaN: true }), (car, target) => {
        const split = cornerWeights(car);
        const change = cornerChangeKg(split, target);
        const moved = { FL: car.FL - change, FR: car.FR + change, RL: car.RL + change, RR: car.RR - change };
        fc.pre(Object.values(moved).every((load) => load > 0));
        const after = cornerWeights(moved);
        expect(after.crossPercent).toBeCloseTo(target, 8);
        expect(after.frontPercent).toBeCloseTo(split.frontPercent, 8);
        expect(after.leftPercent).toBeCloseTo(split.leftPercent, 8);
      }),
    );
  });
});

describe('crossUncertaintyPercent', () => {
  it('is what two diagonals off in opposite directions give, to first order', () => {
    const [high, low] = [500 * 1.01, 500 * 0.99];
    const worst = (100 * high) / (high + low) - 50;
    expect(crossUncertaintyPercent(50, 1)).toBeCloseTo(worst, 6);
  });
});

describe('plausibility', () => {
  it('passes what a car can be', () => {
    expect(cornerFaults(cornerWeights({ FL: 331, FR: 318, RL: 302, RR: 309 }))).toEqual([]);
    expect(cornerFaults(cornerWeights({ FL: 700, FR: 600, RL: 900, RR: 600 }))).toEqual([]);
  });

  it('refuses a pad that was not zeroed', () => {
    const faults = faultsOf(() => runCalculation(CORNER_WEIGHTS, { FL: 331, FR: 1318, RL: 302, RR: 309 }));
    expect(faults.map((fault) => fault.code)).toEqual(['implausible', 'implausible']);
    expect(faults[0]?.detail).toContain('left side');
  });

  it('refuses a total far from the recorded mass', () => {
    const body = { FL: 331, FR: 318, RL: 302, RR: 309, recordedMassKg: 1450 };
    expect(faultsOf(() => runCalculation(CORNER_WEIGHTS, body))).toMatchObject([
      { pointer: '/recordedMassKg', code: 'disagrees' },
    ]);
    expect(runCalculation(CORNER_WEIGHTS, { ...body, recordedMassTolerancePercent: 15 }).result.totalKg).toBe(1260);
  });

  it('refuses a tolerance about nothing', () => {
    const body = { FL: 331, FR: 318, RL: 302, RR: 309, recordedMassTolerancePercent: 5 };
    expect(faultsOf(() => runCalculation(CORNER_WEIGHTS, body))).toMatchObject([{ code: 'without-mass' }]);
  });
});

describe('the calculation', () => {
  it('shows pounds as kilograms and says what it took for granted', () => {
    const pounds = (value: number) => ({ value, unit: 'lb' });
    const worked = runCalculation(CORNER_WEIGHTS, {
      FL: pounds(700),
      FR: pounds(600),
      RL: pounds(900),
      RR: pounds(600),
    });
    expect(worked.result).toMatchObject({ totalKg: 1270.1, leftPercent: 57.1, crossPercent: 53.6 });
    expect(worked.result.crossUncertaintyPercent).toBe(0.5);
    expect(worked.assumptions.map((assumption) => assumption.name)).toContain('scale tolerance');
    expect(worked.cautions.join()).toContain('level');
  });
});
