import { airDensity, frontLoadShare, type LapSize, layOutLap, type Zone } from './brake-heat-lap.ts';
import {
  CARBON_HEAT,
  type Convection,
  heatCurveThrough,
  IRON_HEAT,
  type RotorMaterial,
  type RotorSettings,
  type SpecificHeatPoint,
} from './brake-heat-material.ts';
import type { BrakeHeatSettings } from './brake-heat-session.ts';
import { type Assumption, notComputable, type Standing } from '../calculation.ts';
import { stopDecelerationG } from './stop-distance.ts';

type Maybe<T> = { [K in keyof T]?: T[K] | undefined };

/** What is known about one rotor of an axle; all else gets a default. */
export interface RotorKnown extends Maybe<Omit<RotorSettings, 'heat' | 'heatFactor'>> {
  material?: RotorMaterial | undefined;
  /** J/(kg·K) over °C, ascending; one point for a constant */
  specificHeat?: readonly SpecificHeatPoint[] | undefined;
}

/** What is known about a car and a lap; all but mass, zones and the size of the lap gets a default. */
export interface BrakeHeatKnown extends LapSize {
  brakingZones: readonly Zone[];
  massKg: number;
  laps?: number | undefined;
  sessionMinutes?: number | undefined;
  decelerationG?: number | undefined;
  /** a stop to standstill that was measured: gives the deceleration */
  measuredStop?: { fromKmh: number; distanceM: number } | undefined;
  frontShare?: number | undefined;
  frontWeightShare?: number | undefined;
  cgHeightMm?: number | undefined;
  wheelbaseMm?: number | undefined;
  dragAreaM2?: number | undefined;
  airDensityKgM3?: number | undefined;
  rollingCoefficient?: number | undefined;
  ambientC?: number | undefined;
  startC?: number | undefined;
  convection?: Maybe<Convection> | undefined;
  front?: RotorKnown | undefined;
  rear?: RotorKnown | undefined;
}

type Assumed = readonly [value: string, standing: Standing];

const IRON_SHARE: Assumed = ['0.85 of the braking work: the rest warms pads, tyres and road', 'secondary'];
const CARBON_SHARE: Assumed = ['0.75 of the braking work: carbon pads take up more', 'from-memory'];

/** Defaults that stand for a closed track-day car; every one is reported as an assumption where it is used. */
export const BRAKE_HEAT_DEFAULTS = {
  decelerationG: 0.9,
  frontWeightShare: 0.52,
  cgHeightMm: 500,
  wheelbaseMm: 2600,
  dragAreaM2: 0.7,
  pressureKpa: 101.325,
  rollingCoefficient: 0.015,
  ambientC: 30,
  sessionMinutes: 20,
  convection: { still: 5, factor: 8, exponent: 0.8 },
  rotor: {
    iron: { rotorShare: 0.85, emissivity: 0.55, heat: IRON_HEAT, lightness: 1, shareAssumed: IRON_SHARE },
    carbon: { rotorShare: 0.75, emissivity: 0.85, heat: CARBON_HEAT, lightness: 0.5, shareAssumed: CARBON_SHARE },
  },
  /** rotor mass as a share of the car's mass, iron */
  rotorMassShare: { front: 0.006, rear: 0.004 },
  /** m² of an iron rotor of 1 kg; similar shapes grow with mass to the power 2/3: 9 kg have 0.22 m² */
  areaOfOneKilogramM2: 0.0508,
  radiatingShare: 0.5,
} as const;

/** Settings without gaps, and what was assumed to fill them. */
export interface ResolvedBrakeHeat {
  settings: BrakeHeatSettings;
  assumptions: readonly Assumption[];
}

type Take = <T>(name: string, given: T | undefined, fallback: T, assumed: Assumed) => T;

/**
 * Fills the gaps in what is known with defaults, each noted as an assumption with its standing. Units are in the
 * names; shares are from 0 to 1.
 *
 * @throws NotComputable at `/decelerationG` when a deceleration and a measured stop are both given, at
 *   `/…/specificHeat` for points out of order, and as `layOutLap` and `frontLoadShare`
 * @see `BRAKE_HEAT_DEFAULTS`; the standing of each default is in its assumption
 */
export function resolveBrakeHeat(known: BrakeHeatKnown): ResolvedBrakeHeat {
  const assumptions: Assumption[] = [];
  const take: Take = (name, given, fallback, [value, standing]) => {
    if (given !== undefined) return given;
    assumptions.push({ name, value, standing });
    return fallback;
  };
  const ambientC = number(take, 'ambientC', known.ambientC, '°C', 'common-practice', 'air on a hot day');
  const car = { massKg: known.massKg, decelerationG: deceleration(known, take), ...resistance(known, ambientC, take) };
  const size = { lapTimeS: known.lapTimeS, lapLengthM: known.lapLengthM };
  const settings: BrakeHeatSettings = {
    ...car,
    ...size,
    ...balance(known, car.decelerationG, take),
    zones: known.brakingZones,
    laps: 1,
    ambientC,
    startC: take('startC', known.startC, ambientC, ['as the air', 'common-practice']),
    convection: convection(known.convection ?? {}, take),
    front: rotor('front', known, take),
    rear: rotor('rear', known, take),
  };
  const lapTimeS = layOutLap(known.brakingZones, car, size).timeS;
  return { settings: { ...settings, laps: laps(known, lapTimeS, take) }, assumptions };
}

type DefaultNumber = {
  [K in keyof typeof BRAKE_HEAT_DEFAULTS]: (typeof BRAKE_HEAT_DEFAULTS)[K] extends number ? K : never;
}[keyof typeof BRAKE_HEAT_DEFAULTS];

function number(
  take: Take,
  name: DefaultNumber,
  given: number | undefined,
  unit: string,
  standing: Standing = 'common-practice',
  words = '',
): number {
  const fallback = BRAKE_HEAT_DEFAULTS[name];
  const value = [`${fallback}${unit === '' ? '' : ` ${unit}`}`, words].filter((part) => part !== '').join(': ');
  return take(name, given, fallback, [value, standing]);
}

function deceleration({ decelerationG, measuredStop }: BrakeHeatKnown, take: Take): number {
  if (measuredStop === undefined) return number(take, 'decelerationG', decelerationG, 'g');
  if (decelerationG === undefined) return stopDecelerationG(measuredStop.fromKmh, measuredStop.distanceM);
  throw notComputable('/decelerationG', 'contradiction', 'give the deceleration or a measured stop, not both');
}

function resistance(known: BrakeHeatKnown, ambientC: number, take: Take) {
  const { pressureKpa } = BRAKE_HEAT_DEFAULTS;
  const density = airDensity(ambientC, pressureKpa);
  const assumed = `${density.toFixed(3)} kg/m³: dry air at ${ambientC} °C and ${pressureKpa} kPa`;
  return {
    dragAreaM2: number(take, 'dragAreaM2', known.dragAreaM2, 'm²', 'common-practice', 'a closed car without wings'),
    airDensityKgM3: take('airDensityKgM3', known.airDensityKgM3, density, [assumed, 'derived']),
    rollingCoefficient: number(take, 'rollingCoefficient', known.rollingCoefficient, '', 'from-memory'),
  };
}

function balance(known: BrakeHeatKnown, decelerationG: number, take: Take) {
  const { frontShare } = known;
  const { frontWeightShare, cgHeightMm, wheelbaseMm } = BRAKE_HEAT_DEFAULTS;
  if (frontShare !== undefined) return { frontShare, frontWeightShare, cgHeightMm, wheelbaseMm };
  const axles = {
    frontWeightShare: number(take, 'frontWeightShare', known.frontWeightShare, 'at rest'),
    cgHeightMm: number(take, 'cgHeightMm', known.cgHeightMm, 'mm'),
    wheelbaseMm: number(take, 'wheelbaseMm', known.wheelbaseMm, 'mm'),
  };
  const share = frontLoadShare(axles.frontWeightShare, decelerationG, axles.cgHeightMm, axles.wheelbaseMm);
  const assumed = `${share.toFixed(3)}: divided as the axle loads while braking`;
  take('frontShare', undefined, share, [assumed, 'derived']);
  return axles;
}

function convection(given: Maybe<Convection>, take: Take): Convection {
  const { still, factor, exponent } = BRAKE_HEAT_DEFAULTS.convection;
  const assumed = (value: string, standing: Standing): Assumed => [value, standing];
  return {
    still: take('convection.still', given.still, still, assumed(`${still} W/(m²·K) at standstill`, 'secondary')),
    factor: take('convection.factor', given.factor, factor, assumed(`${factor} W/(m²·K) at 1 m/s`, 'from-memory')),
    exponent: take(
      'convection.exponent',
      given.exponent,
      exponent,
      assumed(`speed to the power ${exponent}`, 'from-memory'),
    ),
  };
}

function rotor(axle: 'front' | 'rear', known: BrakeHeatKnown, take: Take): RotorSettings {
  const given = known[axle] ?? {};
  const material = take(`${axle}.material`, given.material, 'iron', ['iron', 'common-practice']);
  const of = BRAKE_HEAT_DEFAULTS.rotor[material];
  const at = (name: string) => `${axle}.${name}`;
  const share = BRAKE_HEAT_DEFAULTS.rotorMassShare[axle] * of.lightness;
  const guessKg = known.massKg * share;
  const massAssumed = `${guessKg.toFixed(2)} kg: ${share * 1000} g per kg of car`;
  const massKg = take(at('massKg'), given.massKg, guessKg, [massAssumed, 'common-practice']);
  const guessM2 = BRAKE_HEAT_DEFAULTS.areaOfOneKilogramM2 * (massKg / of.lightness) ** (2 / 3);
  const areaAssumed = `${guessM2.toFixed(3)} m²: vented, grows with the mass to the power 2/3`;
  const areaM2 = take(at('areaM2'), given.areaM2, guessM2, [areaAssumed, 'common-practice']);
  const outsideM2 = areaM2 * BRAKE_HEAT_DEFAULTS.radiatingShare;
  const outsideAssumed = `${outsideM2.toFixed(3)} m²: half of the cooled area, vanes do not radiate outwards`;
  const emissivityAssumed = `${of.emissivity}: ${material === 'iron' ? 'oxidised and swept faces together' : 'graphite'}`;
  return {
    massKg,
    areaM2,
    radiatingAreaM2: take(at('radiatingAreaM2'), given.radiatingAreaM2, outsideM2, [outsideAssumed, 'common-practice']),
    emissivity: take(at('emissivity'), given.emissivity, of.emissivity, [emissivityAssumed, 'secondary']),
    rotorShare: take(at('rotorShare'), given.rotorShare, of.rotorShare, of.shareAssumed),
    heat: specificHeat(axle, given.specificHeat, material, take),
    heatFactor: 1,
  };
}

function specificHeat(
  axle: string,
  points: readonly SpecificHeatPoint[] | undefined,
  material: RotorMaterial,
  take: Take,
) {
  const { heat } = BRAKE_HEAT_DEFAULTS.rotor[material];
  const assumed = material === 'iron' ? 'carbon steel by EN 1993-1-2, for grey iron' : 'graphite, for carbon in carbon';
  if (points === undefined) return take(`${axle}.specificHeat`, undefined, heat, [assumed, 'secondary']);
  const wrong = points.findIndex((point, i) => i > 0 && point.atC <= (points[i - 1]?.atC ?? Number.NaN));
  if (wrong === -1 && points.length > 0) return heatCurveThrough(points);
  const pointer = `/${axle}/specificHeat${wrong === -1 ? '' : `/${wrong}/atC`}`;
  throw notComputable(pointer, 'out-of-order', 'give at least one point, in ascending temperature');
}

function laps({ laps, sessionMinutes }: BrakeHeatKnown, lapTimeS: number, take: Take): number {
  if (laps !== undefined) return laps;
  const minutes = sessionMinutes ?? BRAKE_HEAT_DEFAULTS.sessionMinutes;
  const fitting = Math.max(1, Math.ceil((minutes * 60) / lapTimeS));
  return take('laps', undefined, fitting, [`${fitting}: a session of ${minutes} minutes`, 'common-practice']);
}
