import fc from 'fast-check';
import {
  type HeatCurve,
  IRON_HEAT,
  type RotorSettings,
} from '../../../../src/domain/trade/brakes/brake-heat-material.ts';
import type { BrakeHeatSettings } from '../../../../src/domain/trade/brakes/brake-heat-session.ts';

/** A rotor of a middling car; iron that loses heat both ways. */
export const rotor = (overrides: Partial<RotorSettings> = {}): RotorSettings => ({
  massKg: 8,
  areaM2: 0.2,
  radiatingAreaM2: 0.1,
  emissivity: 0.55,
  rotorShare: 0.85,
  heat: IRON_HEAT,
  heatFactor: 1,
  ...overrides,
});

/** A rotor that keeps all its heat. */
export const insulated = (massKg: number, heat: HeatCurve): RotorSettings =>
  rotor({ massKg, areaM2: 0, radiatingAreaM2: 0, emissivity: 0, rotorShare: 1, heat });

export const settings = (overrides: Partial<BrakeHeatSettings> = {}): BrakeHeatSettings => ({
  zones: [
    { fromKmh: 220, toKmh: 90 },
    { fromKmh: 180, toKmh: 100 },
    { fromKmh: 160, toKmh: 90 },
    { fromKmh: 200, toKmh: 120 },
    { fromKmh: 150, toKmh: 80 },
  ],
  lapTimeS: 110,
  laps: 20,
  massKg: 1400,
  decelerationG: 0.9,
  dragAreaM2: 0.7,
  airDensityKgM3: 1.18,
  rollingCoefficient: 0.015,
  frontWeightShare: 0.52,
  cgHeightMm: 500,
  wheelbaseMm: 2600,
  ambientC: 25,
  startC: 25,
  convection: { still: 5, factor: 8, exponent: 0.8 },
  front: rotor(),
  rear: rotor({ massKg: 5.5, areaM2: 0.16, radiatingAreaM2: 0.08 }),
  ...overrides,
});

const between = (min: number, max: number) => fc.double({ min, max, noNaN: true });

const zones = fc.array(
  fc.record({ toKmh: between(30, 130), lostKmh: between(20, 120) }).map(({ toKmh, lostKmh }) => ({
    fromKmh: toKmh + lostKmh,
    toKmh,
  })),
  { minLength: 1, maxLength: 10 },
);

const rotorSize = fc.record({
  massKg: between(3, 14),
  areaM2: between(0.08, 0.35),
  emissivity: between(0, 1),
  rotorShare: between(0.5, 1),
});

/** Cars and laps as they come to a track, in plain numbers; `settingsOf` makes a session of one. */
export const anyCar = fc.record({
  zones,
  secondsPerZone: between(9, 40),
  laps: fc.integer({ min: 1, max: 12 }),
  massKg: between(700, 2500),
  decelerationG: between(0.6, 1.6),
  dragAreaM2: between(0, 1),
  frontWeightShare: between(0.4, 0.6),
  ambientC: between(-10, 45),
  factor: between(2, 15),
  front: rotorSize,
  rear: rotorSize,
});
type AnyCar = typeof anyCar extends fc.Arbitrary<infer T> ? T : never;

export function settingsOf({ secondsPerZone, factor, front, rear, ...car }: AnyCar): BrakeHeatSettings {
  return settings({
    ...car,
    lapTimeS: secondsPerZone * car.zones.length + 20,
    startC: car.ambientC,
    convection: { still: 5, factor, exponent: 0.8 },
    front: rotor({ ...front, radiatingAreaM2: front.areaM2 / 2 }),
    rear: rotor({ ...rear, radiatingAreaM2: rear.areaM2 / 2 }),
  });
}
