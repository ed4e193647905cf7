import { notComputable } from '../calculation.ts';
import { STANDARD_GRAVITY } from './stop-distance.ts';

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
export interface StopEnergy {
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
export const resistanceN = (car: StoppingCar, speedMs: number): number =>
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
