import { notComputable, type TradeFault, NotComputable } from '../calculation.ts';
import { metresPerSecond, resistanceN, type StopEnergy, type StoppingCar, stopEnergy } from './brake-heat-stop.ts';
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
export const CORNER_ALLOWANCE_KMH = 30;

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
