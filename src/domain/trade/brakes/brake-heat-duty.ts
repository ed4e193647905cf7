import type { Vehicle } from '../../vehicle.ts';
import type { Zone } from './brake-heat-lap.ts';
import { type BrakeHeatSession, FACT_STEPS, solveBrakeHeat } from './brake-heat-session.ts';
import { type BrakeHeatKnown, resolveBrakeHeat, type RotorKnown } from './brake-heat-settings.ts';
import { NotComputable } from '../calculation.ts';

/** How hard a venue is on brakes, from easy to hard. */
export const DUTY_CLASSES = ['light', 'medium', 'heavy', 'severe'] as const;
export type DutyClass = (typeof DUTY_CLASSES)[number];

/** Braking power averaged over a lap per mass of car, W/kg, from which each class begins. */
export interface DutyThresholds {
  medium: number;
  heavy: number;
  severe: number;
}

/** How rotor temperatures are turned into what is asked of fluid and pads. */
export interface BrakeMargins {
  /** share of the rotor's rise above the air that reaches the fluid */
  fluidRiseShare: number;
  /** kept between the hottest fluid and its wet boiling point, K */
  fluidMarginK: number;
  /** kept between the hottest rotor and the end of the pads' range, K */
  padMarginK: number;
}

/** Common practice, no source. */
export const DUTY_THRESHOLDS: DutyThresholds = { medium: 20, heavy: 35, severe: 50 };
/** Common practice, no source. */
export const BRAKE_MARGINS: BrakeMargins = { fluidRiseShare: 0.2, fluidMarginK: 20, padMarginK: 50 };
/**
 * How far the estimates may be from what a car needs (k = 2), as shares: of the rotor's rise above the air, and of that
 * rise for the part that reaches the fluid. Common practice; moving each assumed value of a usual car by 10 %, but
 * the exponent of convection, moves the rise by about 15 %.
 */
export const BRAKE_NEED_UNCERTAINTY = { rise: 0.15, fluidRiseShare: 0.03 } as const;
/** Track per braking zone where the lap length is not known, m; common practice, no source. */
const METRES_PER_ZONE = 600;

export interface PerAxle {
  front: number;
  rear: number;
}

/** What a venue asks of a car's brakes; all temperatures are estimates, °C. */
export interface BrakeDuty {
  dutyClass: DutyClass;
  energyPerLapMJ: number;
  estimatedPeakC: PerAxle;
  fluidWetBoilingPointNeededC: number;
  padHighTemperatureNeededC: PerAxle;
}

/**
 * The duty class of a mean braking power per mass of car, W/kg. A class begins at its threshold. Never throws.
 *
 * @see common practice, no source
 */
export function dutyClassOf(wattsPerKg: number, thresholds: DutyThresholds = DUTY_THRESHOLDS): DutyClass {
  if (wattsPerKg >= thresholds.severe) return 'severe';
  if (wattsPerKg >= thresholds.heavy) return 'heavy';
  return wattsPerKg >= thresholds.medium ? 'medium' : 'light';
}

/**
 * Energy for the brakes of one lap, MJ, and its mean power per mass of car, W/kg. Never throws. Source: arithmetic
 * over the stops of the lap.
 */
export function lapDuty({ lap }: BrakeHeatSession, massKg: number): { energyMJ: number; wattsPerKg: number } {
  const energyJ = lap.stops.reduce((sum, stop) => sum + stop.brakeJ, 0);
  return { energyMJ: energyJ / 1e6, wattsPerKg: energyJ / lap.timeS / massKg };
}

/**
 * What the rotor temperatures of a session ask for, °C: fluid that boils, wet, at the air temperature plus a share of
 * the hotter axle's rise plus a margin; pads whose range reaches the rotor's peak plus a margin. Never throws.
 *
 * @see common practice, no source; the margins are parameters
 */
export function brakeNeeds(peakC: PerAxle, ambientC: number, margins: BrakeMargins = BRAKE_MARGINS) {
  const riseK = Math.max(peakC.front, peakC.rear) - ambientC;
  return {
    fluidWetBoilingPointNeededC: ambientC + margins.fluidRiseShare * riseK + margins.fluidMarginK,
    padHighTemperatureNeededC: {
      front: peakC.front + margins.padMarginK,
      rear: peakC.rear + margins.padMarginK,
    },
  };
}

export interface Range {
  low: number;
  high: number;
}

/** What the fluid and the pads need at least and at most, as far as the estimate can tell; °C. */
export interface BrakeNeedRanges {
  fluidC: Range;
  padC: { front: Range; rear: Range };
}

const around = (value: number, uncertainty: number): Range => ({
  low: value - uncertainty,
  high: value + uncertainty,
});

/**
 * The intervals around what `brakeNeeds` gives, in closed form: the uncertainty of the rotor's rise, and for the fluid
 * that of the share of it that reaches the fluid, added as independent (root of the sum of squares). °C. Never throws.
 *
 * @see JCGM 100:2008, 5.1.2 for the sum; the uncertainties are common practice, `BRAKE_NEED_UNCERTAINTY`
 */
export function brakeNeedRanges(
  peakC: PerAxle,
  ambientC: number,
  margins: BrakeMargins = BRAKE_MARGINS,
): BrakeNeedRanges {
  const needs = brakeNeeds(peakC, ambientC, margins);
  const { rise, fluidRiseShare } = BRAKE_NEED_UNCERTAINTY;
  const hotterK = Math.max(peakC.front, peakC.rear) - ambientC;
  const fluidU = Math.hypot(margins.fluidRiseShare * hotterK * rise, hotterK * fluidRiseShare);
  const pad = (axle: 'front' | 'rear') =>
    around(needs.padHighTemperatureNeededC[axle], (peakC[axle] - ambientC) * rise);
  return {
    fluidC: around(needs.fluidWetBoilingPointNeededC, fluidU),
    padC: { front: pad('front'), rear: pad('rear') },
  };
}

/** What a venue asks of a car's brakes, and how sure that is. */
export interface VenueBrakeDuty extends BrakeDuty {
  ranges: BrakeNeedRanges;
}

/** Of a venue: braking zones in lap order, km/h; lap length, m; air temperature to plan for, °C. */
export interface BrakingVenue {
  brakingZones: readonly Zone[];
  lapLengthM?: number | undefined;
  designAirTemperatureC?: number | undefined;
}

type BrakeKind = NonNullable<NonNullable<Vehicle['rotor']>['front']>;

export type BrakingCar = Pick<Vehicle, 'massKg' | 'rotor' | 'axleLoadKg' | 'rotorMinimumWeightG'>;

/**
 * What a venue asks of a car's brakes in a session of 20 minutes, from what their records say and defaults for the
 * rest (`BRAKE_HEAT_DEFAULTS`). Without a lap length a lap is taken as 600 m per zone. Never throws.
 *
 * @returns `undefined` where it cannot be known: no braking zones, no mass, or values that cannot be
 * @see `solveBrakeHeat`, `brakeNeeds`; an estimate whose margins are common practice
 */
export function brakeDuty(venue: BrakingVenue, car: BrakingCar): VenueBrakeDuty | undefined {
  if (car.massKg === undefined || venue.brakingZones.length === 0) return undefined;
  try {
    return estimate(venue, { ...car, massKg: car.massKg });
  } catch (error) {
    // records may hold what cannot be, such as a lap shorter than its stops: then nothing is known
    if (error instanceof NotComputable) return undefined;
    throw error;
  }
}

function estimate(venue: BrakingVenue, car: BrakingCar & { massKg: number }): VenueBrakeDuty {
  const { settings } = resolveBrakeHeat(knownOf(venue, car));
  const session = solveBrakeHeat(settings, FACT_STEPS);
  const { energyMJ, wattsPerKg } = lapDuty(session, car.massKg);
  const estimatedPeakC = { front: session.front.peakC, rear: session.rear.peakC };
  return {
    dutyClass: dutyClassOf(wattsPerKg),
    energyPerLapMJ: energyMJ,
    estimatedPeakC,
    ...brakeNeeds(estimatedPeakC, settings.ambientC),
    ranges: brakeNeedRanges(estimatedPeakC, settings.ambientC),
  };
}

function knownOf(venue: BrakingVenue, car: BrakingCar & { massKg: number }): BrakeHeatKnown {
  const { front, rear } = car.axleLoadKg ?? {};
  return {
    brakingZones: venue.brakingZones,
    lapLengthM: venue.lapLengthM ?? venue.brakingZones.length * METRES_PER_ZONE,
    ambientC: venue.designAirTemperatureC,
    massKg: car.massKg,
    frontWeightShare: front === undefined || rear === undefined ? undefined : front / (front + rear),
    front: rotorKnown(car.rotor?.front, [car.rotorMinimumWeightG?.FL, car.rotorMinimumWeightG?.FR]),
    rear: rotorKnown(car.rotor?.rear, [car.rotorMinimumWeightG?.RL, car.rotorMinimumWeightG?.RR]),
  };
}

/**
 * A worn-out carbon rotor weighs its stamped minimum: the lightest, so the hottest, that may be used. A drum is reckoned
 * as the iron rotor of its axle: it is heavier and cools worse, which about cancels over a session.
 */
function rotorKnown(kind: BrakeKind | undefined, minimumG: readonly (number | undefined)[]): RotorKnown {
  const material = kind === 'drum' ? 'iron' : kind;
  const stamped = minimumG.filter((grams) => grams !== undefined);
  if (material !== 'carbon' || stamped.length === 0) return { material };
  return { material, massKg: Math.min(...stamped) / 1000 };
}
