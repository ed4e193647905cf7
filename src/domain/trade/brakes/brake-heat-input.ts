import { z } from 'zod';
import {
  BRAKE_MARGINS,
  type BrakeMargins,
  DUTY_THRESHOLDS,
  type DutyThresholds,
  type PerAxle,
} from './brake-heat-duty.ts';
import type { RotorSettings } from './brake-heat-material.ts';
import { type BrakeHeatSettings, solvePeakC, type StepLimits } from './brake-heat-session.ts';
import type { BrakeHeatKnown } from './brake-heat-settings.ts';
import { measure, NotComputable } from '../calculation.ts';

/** How far the peaks move, K, when one value is lower or higher and all others stay; absent: that cannot be. */
export interface BrakeHeatSensitivity {
  name: string;
  change: '±10 %' | '±10 K';
  lower?: PerAxle;
  higher?: PerAxle;
}

interface Knob {
  name: string;
  /** `undefined` where the value plays no part */
  read: (settings: BrakeHeatSettings) => number | undefined;
  turn: (settings: BrakeHeatSettings, value: number) => BrakeHeatSettings;
  /** a temperature is moved by 10 K: a share of degrees Celsius means nothing */
  kelvin?: true;
  /** plays a part on one axle only */
  axle?: 'front' | 'rear';
  /** a share cannot exceed the whole */
  share?: true;
}

type Numbers = { [K in keyof BrakeHeatSettings]: BrakeHeatSettings[K] extends number | undefined ? K : never };
type NumberKey = NonNullable<Numbers[keyof BrakeHeatSettings]>;
type RotorKey = Exclude<keyof RotorSettings, 'heat'>;

const plain = (name: NumberKey, more: Pick<Knob, 'kelvin' | 'share'> = {}): Knob => ({
  name,
  read: (settings) => settings[name],
  turn: (settings, value) => ({ ...settings, [name]: value }),
  ...more,
});

/** Plays a part only where the front share is worked out from the axle loads. */
const axle = (name: 'frontWeightShare' | 'cgHeightMm' | 'wheelbaseMm'): Knob => ({
  ...plain(name),
  read: (settings) => (settings.frontShare === undefined ? settings[name] : undefined),
});

const air = (name: 'still' | 'factor' | 'exponent'): Knob => ({
  name: `convection.${name}`,
  read: ({ convection }) => convection[name],
  turn: (settings, value) => ({ ...settings, convection: { ...settings.convection, [name]: value } }),
});

const ROTOR_KEYS: readonly (readonly [RotorKey, string])[] = [
  ['massKg', 'massKg'],
  ['areaM2', 'areaM2'],
  ['radiatingAreaM2', 'radiatingAreaM2'],
  ['emissivity', 'emissivity'],
  ['rotorShare', 'rotorShare'],
  ['heatFactor', 'specificHeat'],
];

const rotors = (side: 'front' | 'rear'): readonly Knob[] =>
  ROTOR_KEYS.map(([key, name]) => ({
    name: `${side}.${name}`,
    axle: side,
    read: (settings) => settings[side][key],
    turn: (settings, value) => ({ ...settings, [side]: { ...settings[side], [key]: value } }),
    ...(key === 'rotorShare' || key === 'emissivity' ? { share: true } : {}),
  }));

/** The lap length plays no part where the lap time is known. */
const lapLength: Knob = {
  ...plain('lapLengthM'),
  read: ({ lapTimeS, lapLengthM }) => (lapTimeS === undefined ? lapLengthM : undefined),
};

const KNOBS: readonly Knob[] = [
  plain('massKg'),
  plain('lapTimeS'),
  lapLength,
  plain('decelerationG'),
  plain('frontShare', { share: true }),
  axle('frontWeightShare'),
  axle('cgHeightMm'),
  axle('wheelbaseMm'),
  plain('dragAreaM2'),
  plain('airDensityKgM3'),
  plain('rollingCoefficient'),
  plain('ambientC', { kelvin: true }),
  plain('startC', { kelvin: true }),
  air('still'),
  air('factor'),
  air('exponent'),
  ...rotors('front'),
  ...rotors('rear'),
];

/**
 * Moves each value the session depends on by ±10 % (temperatures ±10 K), one at a time, and gives the change of both
 * peaks in K. Shares stop at the whole. What takes no part (such as the wheelbase when the front share is given) is
 * left out; a value that cannot be, such as a lap shorter than its stops, leaves its side out.
 *
 * @throws NotComputable as `solveBrakeHeat` for the settings themselves
 * @see `solveBrakeHeat`; the differences are arithmetic
 */
export function brakeHeatSensitivity(settings: BrakeHeatSettings, limits: StepLimits): BrakeHeatSensitivity[] {
  const base = { front: solvePeakC(settings, 'front', limits), rear: solvePeakC(settings, 'rear', limits) };
  return KNOBS.flatMap((knob) => {
    const value = knob.read(settings);
    if (value === undefined) return [];
    const step = knob.kelvin === true ? 10 : value * 0.1;
    const moved = (to: number): PerAxle | undefined => {
      const turned = knob.turn(settings, knob.share === true ? Math.min(to, 1) : to);
      return peakChange(base, turned, limits, knob.axle);
    };
    const lower = moved(value - step);
    const higher = moved(value + step);
    return [
      {
        name: knob.name,
        change: knob.kelvin === true ? ('±10 K' as const) : ('±10 %' as const),
        ...(lower === undefined ? {} : { lower }),
        ...(higher === undefined ? {} : { higher }),
      },
    ];
  });
}

function peakChange(
  base: PerAxle,
  turned: BrakeHeatSettings,
  limits: StepLimits,
  only: 'front' | 'rear' | undefined,
): PerAxle | undefined {
  const change = (axle: 'front' | 'rear'): number =>
    only === undefined || only === axle ? solvePeakC(turned, axle, limits) - base[axle] : 0;
  try {
    return { front: change('front'), rear: change('rear') };
  } catch (error) {
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}

/** What the brake-heat computation is asked. */
export interface BrakeHeatInput extends BrakeHeatKnown {
  dutyThresholds?: Partial<DutyThresholds> | undefined;
  margins?: Partial<BrakeMargins> | undefined;
}

const plainNumber = (min: number, max: number, what: string) => z.number().min(min).max(max).describe(what);
const share = (what: string) => z.number().min(0).max(1).describe(`${what}; a share from 0 to 1`);

const zone = z.strictObject({
  name: z.string().trim().min(1).max(80).optional().describe('For example a corner number'),
  fromKmh: measure('km/h', 'Speed at the start of braking', { min: 0, max: 500 }),
  toKmh: measure('km/h', 'Speed at the end of braking', { min: 0, max: 500 }),
});

const specificHeat = z
  .array(
    z.strictObject({
      atC: measure('°C', 'Temperature', { min: -50, max: 2500 }),
      jPerKgK: plainNumber(50, 5000, 'Specific heat there, J/(kg·K)'),
    }),
  )
  .min(1)
  .max(20)
  .describe('Specific heat of the rotor in ascending temperature, straight between the points; one point: constant');

const rotor = (axle: string) =>
  z
    .strictObject({
      material: z.enum(['iron', 'carbon']).optional().describe('Grey iron, or carbon fibre in carbon'),
      massKg: measure('kg', 'Mass of one rotor without its hat', { min: 0.3, max: 60 }).optional(),
      areaM2: plainNumber(0, 2, 'Area of one rotor that the air cools, vanes included, m²').optional(),
      radiatingAreaM2: plainNumber(0, 2, 'Area of one rotor that radiates outwards, m²').optional(),
      emissivity: share('Emissivity of that area').optional(),
      rotorShare: share('Part of the braking work at the wheel that heats the rotor').optional(),
      specificHeat: specificHeat.optional(),
    })
    .describe(`Rotor of one ${axle} wheel`);

const convection = z
  .strictObject({
    still: plainNumber(0, 500, 'At standstill, W/(m²·K)').optional(),
    factor: plainNumber(0, 200, 'At 1 m/s, W/(m²·K)').optional(),
    exponent: plainNumber(0, 1.5, 'Power of the speed').optional(),
  })
  .describe('Heat transfer to the air: still + factor · (speed in m/s) ^ exponent, in W/(m²·K)');

const measuredStop = z
  .strictObject({
    fromKmh: measure('km/h', 'Speed before the stop', { min: 1, max: 500 }),
    distanceM: measure('m', 'Distance to standstill', { min: 0.5, max: 5000 }),
  })
  .describe('A stop that was measured; gives the deceleration');

const dutyThresholds = z
  .strictObject({
    medium: plainNumber(0, 1000, `Medium from, W/kg; ${DUTY_THRESHOLDS.medium} where not given`).optional(),
    heavy: plainNumber(0, 1000, `Heavy from, W/kg; ${DUTY_THRESHOLDS.heavy} where not given`).optional(),
    severe: plainNumber(0, 1000, `Severe from, W/kg; ${DUTY_THRESHOLDS.severe} where not given`).optional(),
  })
  .describe('Mean braking power over a lap per mass of car from which each duty class begins');

const margins = z
  .strictObject({
    fluidRiseShare: share(
      `Part of the rotor's rise above the air that reaches the fluid; ${BRAKE_MARGINS.fluidRiseShare} where not given`,
    ).optional(),
    fluidMarginK: measure('K', `Kept below the wet boiling point; ${BRAKE_MARGINS.fluidMarginK} K where not given`, {
      min: 0,
      max: 200,
      difference: true,
    }).optional(),
    padMarginK: measure('K', `Kept below the end of the pads' range; ${BRAKE_MARGINS.padMarginK} K where not given`, {
      min: 0,
      max: 500,
      difference: true,
    }).optional(),
  })
  .describe('How temperatures are turned into what is asked of fluid and pads');

/** Request body of the brake-heat computation. */
export const BrakeHeatInput: z.ZodType<BrakeHeatInput> = z.strictObject({
  brakingZones: z.array(zone).min(1).max(60).describe('Braking zones in the order of a lap'),
  lapTimeS: measure('s', 'Lap time; this or the lap length is needed', { min: 5, max: 1800 }).optional(),
  lapLengthM: measure('m', 'Lap length; gives the lap time where that is not known', {
    min: 100,
    max: 50_000,
  }).optional(),
  laps: z.int().min(1).max(100).optional().describe('Laps of the session'),
  sessionMinutes: plainNumber(1, 120, 'Length of the session where the laps are not given, minutes').optional(),
  massKg: measure('kg', 'Mass of the car with driver and fuel', { min: 50, max: 5000 }),
  decelerationG: plainNumber(0.05, 6, 'Deceleration in the zones, in g').optional(),
  measuredStop: measuredStop.optional(),
  frontShare: share('Part of the braking done by the front axle (brake balance), where it is known').optional(),
  frontWeightShare: share('Part of the mass on the front axle at rest').optional(),
  cgHeightMm: measure('mm', 'Height of the centre of gravity', { min: 100, max: 1500 }).optional(),
  wheelbaseMm: measure('mm', 'Wheelbase', { min: 1000, max: 6000 }).optional(),
  dragAreaM2: plainNumber(0, 5, 'Drag coefficient times frontal area, m²').optional(),
  airDensityKgM3: plainNumber(0, 2, 'Density of the air, kg/m³').optional(),
  rollingCoefficient: plainNumber(0, 0.1, 'Rolling resistance as a share of the weight').optional(),
  ambientC: measure('°C', 'Temperature of the air', { min: -40, max: 60 }).optional(),
  startC: measure('°C', 'Temperature of the rotors at the start', { min: -40, max: 800 }).optional(),
  convection: convection.optional(),
  front: rotor('front').optional(),
  rear: rotor('rear').optional(),
  dutyThresholds: dutyThresholds.optional(),
  margins: margins.optional(),
});
