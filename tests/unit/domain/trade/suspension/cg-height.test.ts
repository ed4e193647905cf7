import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  CG_HEIGHT,
  cgFaults,
  cgHeightMm,
  cgUncertaintyMm,
  liftAngleDeg,
  measuredCgHeightMm,
  type RaisedCar,
  staticStabilityFactor,
} from '../../../../../src/domain/trade/suspension/cg-height.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

interface Built {
  massKg: number;
  wheelbaseMm: number;
  fromStayingMm: number;
  heightMm: number;
  radiusMm: number;
  angleDeg: number;
}

/**
 * Statics by coordinates, not by the formula under test: the body is turned about the staying axle and moments are
 * taken about it; the raised axle carries its share straight up.
 */
function raisedCar({ massKg, wheelbaseMm, fromStayingMm, heightMm, radiusMm, angleDeg }: Built): RaisedCar {
  const [sin, cos] = [Math.sin((angleDeg * Math.PI) / 180), Math.cos((angleDeg * Math.PI) / 180)];
  const lever = fromStayingMm * cos - (heightMm - radiusMm) * sin;
  const onRaised = (massKg * lever) / (wheelbaseMm * cos);
  return {
    totalKg: massKg,
    wheelbaseMm,
    cgToRaisedMm: wheelbaseMm - fromStayingMm,
    cgToStayingMm: fromStayingMm,
    stayingRadiusMm: radiusMm,
    raisedRadiusMm: radiusMm,
    stayingRaisedKg: massKg - onRaised,
    angleDeg,
  };
}

const arbBuilt: fc.Arbitrary<Built> = fc
  .record({
    massKg: fc.double({ min: 400, max: 2500, noNaN: true }),
    wheelbaseMm: fc.double({ min: 1800, max: 3200, noNaN: true }),
    share: fc.double({ min: 0.35, max: 0.65, noNaN: true }),
    heightMm: fc.double({ min: 340, max: 900, noNaN: true }),
    radiusMm: fc.double({ min: 240, max: 330, noNaN: true }),
    angleDeg: fc.double({ min: 5, max: 25, noNaN: true }),
  })
  .map(({ share, ...rest }) => ({ ...rest, fromStayingMm: share * rest.wheelbaseMm }));

const BODY = {
  wheelbaseMm: 2570,
  frontKg: 640,
  rearKg: 610,
  raised: 'rear',
  stayingRaisedKg: 685,
  liftMm: 500,
  frontRadiusMm: 300,
  rearRadiusMm: 300,
};

describe('cgHeightMm', () => {
  it('finds the height a car was built with', () => {
    fc.assert(
      fc.property(arbBuilt, (built) => {
        expect(measuredCgHeightMm(raisedCar(built))).toBeCloseTo(built.heightMm, 6);
      }),
    );
  });

  it('is higher the more the staying axle gains', () => {
    fc.assert(
      fc.property(arbBuilt, fc.double({ min: 0.5, max: 50, noNaN: true }), (built, more) => {
        const car = raisedCar(built);
        expect(cgHeightMm({ ...car, stayingRaisedKg: car.stayingRaisedKg + more })).toBeGreaterThan(cgHeightMm(car));
      }),
    );
  });

  it('is the same whichever axle goes up', () => {
    const rear = runCalculation(CG_HEIGHT, BODY).result;
    const front = runCalculation(CG_HEIGHT, { ...BODY, raised: 'front', stayingRaisedKg: 610 + 45 }).result;
    expect(front.heightMm).toBe(rear.heightMm);
    expect(front.gainKg).toBe(45);
  });

  it('is less sure the flatter the car stands', () => {
    const car = raisedCar({
      massKg: 1250,
      wheelbaseMm: 2570,
      fromStayingMm: 1285,
      heightMm: 500,
      radiusMm: 300,
      angleDeg: 20,
    });
    expect(cgUncertaintyMm({ ...car, angleDeg: 5 }, 1)).toBeGreaterThan(4 * cgUncertaintyMm(car, 1));
  });
});

describe('refusals', () => {
  const sound = raisedCar({
    massKg: 1250,
    wheelbaseMm: 2570,
    fromStayingMm: 1285,
    heightMm: 500,
    radiusMm: 300,
    angleDeg: 11,
  });

  it('has none for a car that was built', () => {
    expect(cgFaults(sound)).toEqual([]);
  });

  it.each<[string, Partial<RaisedCar>, string]>([
    ['distances that do not add up', { cgToRaisedMm: 1400 }, '/cgToRaisedMm'],
    ['an axle that carries the whole car', { stayingRaisedKg: 1250 }, '/stayingRaisedKg'],
    ['an axle that gained nothing', { stayingRaisedKg: 625 }, '/stayingRaisedKg'],
    ['an axle that lost load', { stayingRaisedKg: 600 }, '/stayingRaisedKg'],
    ['a car that hardly leans', { angleDeg: 1 }, '/angleDeg'],
    ['a car that stands on end', { angleDeg: 60 }, '/angleDeg'],
    ['no angle', { angleDeg: Number.NaN }, '/angleDeg'],
  ])('names %s', (_what, change, pointer) => {
    expect(faultsOf(() => measuredCgHeightMm({ ...sound, ...change })).map((fault) => fault.pointer)).toContain(
      pointer,
    );
  });

  it('names everything wrong with the printed example whose answer is 37.6 m', () => {
    const inch = 25.4;
    const printed = {
      totalKg: 55,
      wheelbaseMm: 2700,
      cgToRaisedMm: 30 * inch,
      cgToStayingMm: 27 * inch,
      stayingRadiusMm: 11 * inch,
      raisedRadiusMm: 15 * inch,
      stayingRaisedKg: 150,
      angleDeg: 10,
    };
    const details = faultsOf(() => measuredCgHeightMm(printed)).map((fault) => fault.detail);
    expect(details).toHaveLength(3);
    expect(details[2]).toContain('37615 mm');
  });

  it.each<[string, Record<string, unknown>, string, string]>([
    ['a lift that is not far enough', { liftMm: 50 }, '/liftMm', 'implausible'],
    ['a lift beyond the wheelbase', { liftMm: 2600 }, '/liftMm', 'implausible'],
    ['lift and angle', { angleDeg: 11 }, '/liftMm', 'one-of'],
    ['neither', { liftMm: undefined }, '/liftMm', 'one-of'],
    ['a gain that would put the roof on top', { stayingRaisedKg: 780 }, '/stayingRaisedKg', 'implausible'],
  ])('points into the request at %s', (_what, change, pointer, code) => {
    expect(faultsOf(() => runCalculation(CG_HEIGHT, { ...BODY, ...change }))).toContainEqual(
      expect.objectContaining({ pointer, code }),
    );
  });

  it('refuses a track of nothing', () => {
    expect(faultsOf(() => staticStabilityFactor(0, 500))).toMatchObject([{ pointer: '/trackMm' }]);
    expect(faultsOf(() => liftAngleDeg(0, 2500))).toMatchObject([{ pointer: '/liftMm' }]);
  });
});

describe('the calculation', () => {
  it('works its example with steps that lead to the result', () => {
    const worked = runCalculation(CG_HEIGHT, CG_HEIGHT.example);
    expect(worked.steps.at(-1)?.result).toContain(`${worked.result.heightMm} mm`);
    expect(worked.result.staticStabilityFactor).toBeCloseTo(1520 / 2 / worked.result.heightMm, 2);
  });

  it('takes an angle as well as a lift', () => {
    const angleDeg = liftAngleDeg(500, 2570);
    const byAngle = runCalculation(CG_HEIGHT, { ...BODY, liftMm: undefined, angleDeg });
    expect(byAngle.result).toEqual(runCalculation(CG_HEIGHT, BODY).result);
  });

  it('warns where the scales leave the height open', () => {
    const cautions = runCalculation(CG_HEIGHT, { ...BODY, scaleResolutionKg: 20 }).cautions;
    expect(cautions.join()).toContain('finer scales');
    expect(runCalculation(CG_HEIGHT, BODY).cautions.join()).not.toContain('finer scales');
  });
});
