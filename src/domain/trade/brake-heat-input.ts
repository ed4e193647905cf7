import { z } from 'zod';
import { type BrakeMargins, BRAKE_MARGINS, DUTY_THRESHOLDS, type DutyThresholds } from './brake-heat-duty.ts';
import type { BrakeHeatKnown } from './brake-heat-settings.ts';
import { measure } from './calculation.ts';

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
