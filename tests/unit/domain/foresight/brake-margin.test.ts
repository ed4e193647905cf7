import { expect, test } from 'vitest';
import { followRotor, marginsOf, padFactor, soakAt } from '../../../../src/domain/foresight/brake-margin-model.ts';
import { BRAKE_MARGINS, brakeNeeds } from '../../../../src/domain/trade/brakes/brake-heat-duty.ts';
import { BRAKE_MARGIN } from '../../../../src/domain/trade/brakes/brake-margin.ts';
import { NotComputable } from '../../../../src/domain/trade/calculation.ts';

type Input = Parameters<typeof BRAKE_MARGIN.compute>[0];
const example = BRAKE_MARGIN.input.parse(BRAKE_MARGIN.example);
const work = (change: Partial<Input> = {}) => BRAKE_MARGIN.compute({ ...example, ...change }).result;

test('in a session of 20 minutes the hottest fluid is what judging takes', () => {
  const { laps } = work({ session: { ...example.session, laps: undefined, sessionMinutes: 20 }, pads: undefined });
  const peakC = Math.max(...laps.map(({ rotorC }) => rotorC));
  const need = brakeNeeds({ front: peakC, rear: peakC }, 28).fluidWetBoilingPointNeededC - BRAKE_MARGINS.fluidMarginK;
  expect(Math.max(...laps.map(({ fluidC }) => fluidC))).toBeCloseTo(need, -0.5);
});

test('lap by lap the margin falls; the band holds the middle', () => {
  const { laps } = work();
  for (const [
    at,
    {
      fluidMargin: { low, middle, high },
    },
  ] of laps.entries()) {
    expect(low).toBeLessThan(middle);
    expect(high).toBeGreaterThan(middle);
    expect(middle).toBeLessThanOrEqual(laps[at - 1]?.fluidMargin.middle ?? Infinity);
  }
});

test('old fluid is used up in a lap that is named, and fresh fluid helps most', () => {
  const old = work({
    session: { ...example.session, laps: 15, massKg: 1900 },
    fluid: { dryBoilingPoint: 205, wetBoilingPoint: 140 },
    pads: { thicknessMm: 3, highC: 400 },
  });
  expect(old.fluidUsedInLap).toBeGreaterThan(1);
  expect(old.laps[(old.fluidUsedInLap ?? 0) - 1]?.fluidMargin.low).toBeLessThan(0);
  expect(old.laps[(old.fluidUsedInLap ?? 0) - 2]?.fluidMargin.low).toBeGreaterThanOrEqual(0);
  expect(old.padsUsedInLap).toBeDefined();
  expect(old.helps[0]?.what).toContain('fluid');
  expect(old.keepsMinutes).toBeLessThan(20);
});

test('thin pads let more heat through, and a parked car gets hotter before it cools', () => {
  const [thick, thin] = [work({ pads: { thicknessMm: 11 } }), work({ pads: { thicknessMm: 2 } })];
  expect(thin.laps.at(-1)?.fluidC).toBeGreaterThan(thick.laps.at(-1)?.fluidC ?? 0);
  expect(padFactor(11)).toBe(1);
  expect(padFactor(0)).toBeCloseTo(1.6, 9);
  expect(thick.soak.fluidC).toBeGreaterThan(thick.laps.at(-1)?.fluidC ?? 0);
  expect(thick.soak.afterMinutes).toBeGreaterThan(1);
});

test('heat is neither made nor lost where nothing leaves', () => {
  const nodes = { rotorJK: 4200, caliperJK: 1900, betweenWK: 4, rotorToAirWK: 0, caliperToAirWK: 0, ambientC: 25 };
  const heat = ({ rotorC, caliperC }: ReturnType<typeof soakAt>) => nodes.rotorJK * rotorC + nodes.caliperJK * caliperC;
  const start = { rotorC: 480, caliperC: 110 };
  for (const seconds of [10, 100, 1000, 5000])
    expect(heat(soakAt(nodes, start, seconds)) / heat(start)).toBeCloseTo(1, 9);
});

test('a rotor of one temperature: the caliper follows as 1 − e^(−t/τ)', () => {
  const timeS = Array.from({ length: 61 }, (_, at) => at * 10);
  const rise = followRotor(
    timeS,
    timeS.map(() => 320),
    20,
  );
  for (const [at, t] of timeS.entries()) expect(rise[at]).toBeCloseTo(300 * (1 - Math.exp(-t / 300)), 6);
});

test('the band of a margin is that of its normal parts', () => {
  // wet point and no age: the boiling point scatters by 3 K, the air by 3 K, the rise by √2 · 7.5 % of 100 K
  const [lap] = marginsOf({
    laps: [{ fluidRiseK: 100, rotorRiseK: 400 }],
    ambientC: 30,
    fluid: { dryC: 230, wetC: 180 },
    ageDays: undefined,
    padHighC: undefined,
  }).fluid;
  const sd = Math.hypot(3, 3, 100 * Math.hypot(0.075, 0.075));
  expect(lap?.middle).toBeCloseTo(50, -0.5);
  expect(((lap?.high ?? 0) - (lap?.low ?? 0)) / (2 * 1.645 * sd)).toBeCloseTo(1, 1);
});

test('what cannot be is refused with its place', () => {
  const bad = (fluid: Input['fluid']) => () => work({ fluid });
  expect(bad({ dryBoilingPoint: 150, wetBoilingPoint: 200 })).toThrow(NotComputable);
  expect(bad({ ...example.fluid, on: undefined })).toThrow(/day of the session/);
  expect(bad({ ...example.fluid, flushedOn: '2026-07-01' })).toThrow(/after the session/);
});
