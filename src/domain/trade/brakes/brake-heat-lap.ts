import { notComputable, NotComputable, type TradeFault } from '../calculation.ts';
import { STANDARD_GRAVITY } from './stop-distance.ts';

/** A braking zone of the lap, km/h. */
export interface Zone {
  name?: string | undefined;
  fromKmh: number;
  toKmh: number;
}

/** One stretch of a lap on which the speed changes evenly: a stop, or the way from one stop to the next. */
export interface Stretch {
  braking: boolean;
  fromMs: number;
  toMs: number;
  durationS: number;
}

/** A lap as a sequence of stretches, starting at the end of the last braking zone. */
export interface Lap {
  stretches: readonly Stretch[];
  /** one per braking zone, in lap order */
  stops: readonly StopEnergy[];
  timeS: number;
  /** as the stretches add up, m */
  lengthM: number;
}

/** What is known about the length of a lap; the time decides when both are known. */
export interface LapSize {
  lapTimeS?: number | undefined;
  lapLengthM?: number | undefined;
}

/** km/h added to the speed that is regained between two stops: what a corner costs when little is regained. */
const CORNER_ALLOWANCE_KMH = 30;

/**
 * Lays a lap out in time. Stops take (v1 − v2)/a. The rest of the lap is divided among the ways between them in
 * proportion to the speed that is regained there plus 30 km/h (common practice, no source); the speed rises evenly on
 * the way. With a lap length and no lap time, the ways are as long as makes the distances add up to it.
 *
 * @throws NotComputable for no zones, a zone that does not slow down, no lap time or length, or one that is too short
 *   for the stops or for the speed to be regained with 2 g
 */
export function layOutLap(zones: readonly Zone[], car: StoppingCar, size: LapSize): Lap {
  assertZones(zones);
  const stops = zones.map((zone) => stopEnergy(car, metresPerSecond(zone.fromKmh), metresPerSecond(zone.toKmh)));
  const ways = waysBetween(zones);
  const brakingS = sum(stops.map((stop) => stop.durationS));
  const brakingM = sum(stops.map((stop) => stop.distanceM));
  const weight = sum(ways.map((way) => way.weight));
  const meanMs = sum(ways.map((way) => (way.weight / weight) * way.meanMs));
  const betweenS = timeBetween(size, { brakingS, brakingM, meanMs });
  assertMeanSpeed(size, zones);
  const stretches = ways.flatMap((way, i): Stretch[] => {
    const durationS = betweenS * (way.weight / weight);
    return [
      { braking: false, fromMs: way.fromMs, toMs: way.toMs, durationS },
      { braking: true, fromMs: way.toMs, toMs: way.stopMs, durationS: stops[i]?.durationS ?? 0 },
    ];
  });
  assertAcceleration(stretches, size);
  return { stretches, stops, timeS: brakingS + betweenS, lengthM: brakingM + betweenS * meanMs };
}

interface Way {
  fromMs: number;
  toMs: number;
  stopMs: number;
  meanMs: number;
  weight: number;
}

function waysBetween(zones: readonly Zone[]): Way[] {
  return zones.map((zone, i): Way => {
    const before = zones[(i + zones.length - 1) % zones.length] ?? zone;
    const fromMs = metresPerSecond(before.toKmh);
    const toMs = metresPerSecond(zone.fromKmh);
    const weight = Math.max(toMs - fromMs, 0) + metresPerSecond(CORNER_ALLOWANCE_KMH);
    return { fromMs, toMs, stopMs: metresPerSecond(zone.toKmh), meanMs: (fromMs + toMs) / 2, weight };
  });
}

function timeBetween(
  { lapTimeS, lapLengthM }: LapSize,
  braking: { brakingS: number; brakingM: number; meanMs: number },
): number {
  if (lapTimeS !== undefined) {
    const left = lapTimeS - braking.brakingS;
    if (left > 0) return left;
    throw notComputable('/lapTimeS', 'too-short', `the stops alone take ${braking.brakingS.toFixed(1)} s of a lap`);
  }
  if (lapLengthM === undefined) throw notComputable('/lapTimeS', 'missing', 'give the lap time, or the lap length');
  const left = lapLengthM - braking.brakingM;
  if (left > 0) return left / braking.meanMs;
  throw notComputable('/lapLengthM', 'too-short', `the stops alone take ${braking.brakingM.toFixed(0)} m of a lap`);
}

function assertZones(zones: readonly Zone[]): void {
  if (zones.length === 0) throw notComputable('/brakingZones', 'missing', 'at least one braking zone is needed');
  const faults = zones.flatMap(({ fromKmh, toKmh }, i): TradeFault[] => {
    if (fromKmh > toKmh && toKmh >= 0 && Number.isFinite(fromKmh)) return [];
    const detail = `a braking zone goes from a higher to a lower speed, not from ${fromKmh} to ${toKmh} km/h`;
    return [{ pointer: `/brakingZones/${i}/fromKmh`, code: 'impossible', detail }];
  });
  if (faults.length > 0) throw new NotComputable(faults);
}

function assertMeanSpeed({ lapTimeS, lapLengthM }: LapSize, zones: readonly Zone[]): void {
  if (lapTimeS === undefined || lapLengthM === undefined) return;
  const top = Math.max(...zones.map((zone) => zone.fromKmh));
  const mean = (lapLengthM / lapTimeS) * 3.6;
  if (mean <= top) return;
  const detail = `${lapLengthM} m in ${lapTimeS} s is a mean of ${mean.toFixed(0)} km/h, above the highest speed given (${top} km/h)`;
  throw notComputable('/lapTimeS', 'impossible', detail);
}

/** No car on tyres speeds up faster, g; common practice, no source. */
const MOST_ACCELERATION_G = 2;

function assertAcceleration(stretches: readonly Stretch[], { lapTimeS }: LapSize): void {
  const most = MOST_ACCELERATION_G * STANDARD_GRAVITY;
  const short = stretches.find((way) => !way.braking && way.toMs - way.fromMs > most * way.durationS);
  if (short === undefined) return;
  const kmh = ((short.toMs - short.fromMs) * 3.6).toFixed(0);
  const detail = `so short a lap leaves ${short.durationS.toFixed(1)} s to gain ${kmh} km/h between two stops`;
  throw notComputable(lapTimeS === undefined ? '/lapLengthM' : '/lapTimeS', 'too-short', detail);
}

/**
 * Braking power of all wheels at a speed in m/s on a stop, W: (m·a − drag − rolling)·v. Never throws. Source: power is
 * force times speed, textbook mechanics.
 */
export const brakePowerW = (car: StoppingCar, speedMs: number): number =>
  (car.massKg * car.decelerationG * STANDARD_GRAVITY - resistanceN(car, speedMs)) * speedMs;

const sum = (values: readonly number[]): number => values.reduce((total, value) => total + value, 0);

const KMH_PER_MS = 3.6;

/** km/h to m/s, exact. Never throws. Source: 3.6 by definition of the hour and the kilometre. */
export const metresPerSecond = (kmh: number): number => kmh / KMH_PER_MS;

/** The car in a stop: kg, m/s², m², kg/m³, and rolling resistance as a share of the weight. */
export interface StoppingCar {
  massKg: number;
  decelerationG: number;
  /** drag coefficient times frontal area, m² */
  dragAreaM2: number;
  airDensityKgM3: number;
  rollingCoefficient: number;
}

/** Where the energy of one stop goes, J, and how long it takes, s and m. */
interface StopEnergy {
  kineticJ: number;
  dragJ: number;
  rollingJ: number;
  /** what is left for the brakes of all wheels */
  brakeJ: number;
  durationS: number;
  distanceM: number;
}

/**
 * Kinetic energy given up between two speeds: E = ½·m·(v1² − v2²), in J from kg and m/s. Never throws.
 *
 * @see any textbook of mechanics; worked examples in the published checks
 */
export const kineticEnergyJ = (massKg: number, fromMs: number, toMs: number): number =>
  (massKg * (fromMs ** 2 - toMs ** 2)) / 2;

/**
 * Temperature rise of a rotor that keeps all its heat: ΔT = share·E/(m·c), in K from J, a share of 0 to 1, kg and
 * J/(kg·K). An upper bound: nothing is lost and the rotor is evenly warm. Never throws.
 *
 * @see textbook formula of lumped heat capacity; worked examples in the published checks
 */
export const adiabaticRiseK = (energyJ: number, share: number, massKg: number, jPerKgK: number): number =>
  (share * energyJ) / (massKg * jPerKgK);

/**
 * Braking power at one instant: P = m·a·v, in W from kg, m/s² and m/s. Drag is not taken off. Never throws. Source:
 * textbook mechanics.
 */
export const brakingPowerW = (massKg: number, decelerationMs2: number, speedMs: number): number =>
  massKg * decelerationMs2 * speedMs;

/**
 * Density of dry air, kg/m³, from °C and kPa absolute: ρ = p/(R·T) with R = 287.05 J/(kg·K) (from memory; the standard
 * atmosphere's 1.225 kg/m³ at 15 °C comes out). Never throws.
 */
export const airDensity = (atC: number, kPa: number): number => (kPa * 1000) / (287.05 * (atC + 273.15));

/**
 * What holds the car back besides its brakes at a speed in m/s, N: ½·ρ·CdA·v² + f·m·g. Never throws. Source: textbook
 * of vehicle dynamics.
 */
const resistanceN = (car: StoppingCar, speedMs: number): number =>
  (car.airDensityKgM3 * car.dragAreaM2 * speedMs ** 2) / 2 + car.rollingCoefficient * car.massKg * STANDARD_GRAVITY;

/**
 * Energy of one stop at constant deceleration, from m/s to m/s. Drag over the stop is
 * ρ·CdA·(v1⁴ − v2⁴)/(8·a), rolling is f·m·g·s, the brakes take the rest.
 *
 * @throws NotComputable at `/decelerationG` when drag and rolling alone slow the car harder than that
 * @see derived from F = ½·ρ·CdA·v² over ds = −v·dv/a
 */
export function stopEnergy(car: StoppingCar, fromMs: number, toMs: number): StopEnergy {
  const deceleration = car.decelerationG * STANDARD_GRAVITY;
  if (car.massKg * deceleration <= resistanceN(car, fromMs)) {
    const detail = `drag and rolling alone slow the car by more than ${car.decelerationG} g at ${fromMs * KMH_PER_MS} km/h`;
    throw notComputable('/decelerationG', 'impossible', detail);
  }
  const kineticJ = kineticEnergyJ(car.massKg, fromMs, toMs);
  const distanceM = (fromMs ** 2 - toMs ** 2) / (2 * deceleration);
  const dragJ = (car.airDensityKgM3 * car.dragAreaM2 * (fromMs ** 4 - toMs ** 4)) / (8 * deceleration);
  const rollingJ = car.rollingCoefficient * car.massKg * STANDARD_GRAVITY * distanceM;
  const brakeJ = kineticJ - dragJ - rollingJ;
  return { kineticJ, dragJ, rollingJ, brakeJ, durationS: (fromMs - toMs) / deceleration, distanceM };
}

/**
 * Share of the axle load on the front axle while braking: static share + (a/g)·h/L, from a share of 0 to 1, g and two
 * lengths in one unit. Brakes that use the tyres of both axles equally are divided like that.
 *
 * @throws NotComputable at `/cgHeightMm` when the rear axle would lift off
 * @see load transfer ΔW = m·a·h/L, textbook of vehicle dynamics
 */
export function frontLoadShare(
  frontWeightShare: number,
  decelerationG: number,
  cgHeightMm: number,
  wheelbaseMm: number,
): number {
  const share = frontWeightShare + (decelerationG * cgHeightMm) / wheelbaseMm;
  if (share < 1) return share;
  throw notComputable('/cgHeightMm', 'impossible', `the rear axle would lift off the ground at ${decelerationG} g`);
}
