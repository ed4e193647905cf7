import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  STOP_DISTANCE,
  stopDecelerationG,
  stopDistanceM,
} from '../../../../../src/domain/trade/brakes/stop-distance.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const arbSpeed = fc.double({ min: 5, max: 350, noNaN: true });
const arbG = fc.double({ min: 0.1, max: 3, noNaN: true });
const arbReaction = fc.double({ min: 0, max: 2, noNaN: true });

describe('a stop', () => {
  it('comes back: distance from deceleration from distance', () => {
    fc.assert(
      fc.property(arbSpeed, arbG, arbReaction, (speed, g, reaction) => {
        expect(stopDecelerationG(speed, stopDistanceM(speed, g, reaction), reaction)).toBeCloseTo(g, 6);
      }),
    );
  });

  it('is longer from a higher speed, and shorter with more deceleration', () => {
    fc.assert(
      fc.property(arbSpeed, arbG, (speed, g) => {
        expect(stopDistanceM(speed * 1.1, g)).toBeGreaterThan(stopDistanceM(speed, g));
        expect(stopDistanceM(speed, g * 1.1)).toBeLessThan(stopDistanceM(speed, g));
      }),
    );
  });

  it('takes four times the room from twice the speed', () => {
    expect(stopDistanceM(200, 1)).toBeCloseTo(4 * stopDistanceM(100, 1), 9);
  });

  it.each<[string, () => number, string]>([
    ['no speed', () => stopDecelerationG(0, 10), '/speedKmh'],
    ['no distance', () => stopDecelerationG(50, 0), '/distanceM'],
    ['a distance that is gone before braking', () => stopDecelerationG(72, 20, 1), '/distanceM'],
    ['no deceleration', () => stopDistanceM(50, 0), '/decelerationG'],
    ['no number', () => stopDistanceM(Number.NaN, 1), '/speedKmh'],
  ])('refuses %s', (_what, run, pointer) => {
    expect(faultsOf(run)).toMatchObject([{ pointer }]);
  });
});

describe('the calculation', () => {
  it('meets the road test at exactly its distance, and not a foot beyond', () => {
    const body = (feet: number) => ({
      speedKmh: { value: 20, unit: 'mph' },
      distanceM: { value: feet, unit: 'ft' },
      test: 'four-wheel-brakes',
    });
    expect(runCalculation(STOP_DISTANCE, body(30)).result).toMatchObject({ decelerationG: 0.446, meets: true });
    expect(runCalculation(STOP_DISTANCE, body(31)).result.meets).toBe(false);
    expect(runCalculation(STOP_DISTANCE, { ...body(31), test: 'other-brakes' }).result.meets).toBe(true);
  });

  it('gives the distance of a deceleration and claims no test that was not named', () => {
    const { result } = runCalculation(STOP_DISTANCE, { speedKmh: 100, decelerationG: 1 });
    // 100 km/h at 1 g: v²/(2g) = 27.778²/19.6133
    expect(result).toMatchObject({ distanceM: 39.34, neededG: null, meets: null });
  });

  it.each([{ speedKmh: 100 }, { speedKmh: 100, distanceM: 40, decelerationG: 1 }])('refuses %j', (body) => {
    expect(faultsOf(() => runCalculation(STOP_DISTANCE, body))).toMatchObject([{ code: 'one-of' }]);
  });
});
