/** W/(m²·K⁴); CODATA 2018, exact since 2019 (from memory) */
export const STEFAN_BOLTZMANN = 5.670374419e-8;

/** One rotor of an axle. */
export interface RotorSettings {
  massKg: number;
  /** area that the air cools, vanes included, m² */
  areaM2: number;
  /** area that radiates to the outside, m² */
  radiatingAreaM2: number;
  emissivity: number;
  /** share of the braking work at this wheel that heats the rotor; the rest goes into pads, tyre and road */
  rotorShare: number;
  heat: HeatCurve;
  /** multiplies the specific heat; 1 as it is */
  heatFactor: number;
}

/** Convection of the rotor over the speed: h = still + factor·vⁿ, in W/(m²·K) with v in m/s. */
export interface Convection {
  still: number;
  factor: number;
  exponent: number;
}

/**
 * Heat transfer coefficient at a speed in m/s, W/(m²·K). Never throws. Source: turbulent cooling of a turning disc,
 * from memory.
 */
export const convectionAt = ({ still, factor, exponent }: Convection, speedMs: number): number =>
  still + factor * speedMs ** exponent;

/** One integration step: length in s; brake power of all wheels, W, and h, W/(m²·K), at its start, middle and end. */
export interface RotorStep {
  dt: number;
  power: readonly [number, number, number];
  h: readonly [number, number, number];
}

/** A rotor while it is followed: temperature in °C, and what it has lost so far, J. */
export interface RotorState {
  tC: number;
  convectedJ: number;
  radiatedJ: number;
}

/** A rotor in its surroundings, prepared for stepping. */
export interface Rotor {
  /** of the brake power of all wheels */
  powerShare: number;
  areaM2: number;
  radiation: number;
  ambientC: number;
  ambient4: number;
  massKg: number;
  heat: HeatCurve;
}

/**
 * Prepares a rotor that gets `axleShare` of all braking divided between two wheels, in air of `ambientC` °C. The share
 * is from 0 to 1. Never throws. Source: arithmetic.
 */
export function prepareRotor(settings: RotorSettings, axleShare: number, ambientC: number): Rotor {
  return {
    powerShare: (axleShare / 2) * settings.rotorShare,
    areaM2: settings.areaM2,
    radiation: settings.emissivity * STEFAN_BOLTZMANN * settings.radiatingAreaM2,
    ambientC,
    ambient4: (ambientC + ZERO_C_IN_K) ** 4,
    massKg: settings.massKg * settings.heatFactor,
    heat: settings.heat,
  };
}

const convected = (rotor: Rotor, h: number, tC: number): number => h * rotor.areaM2 * (tC - rotor.ambientC);

function radiated(rotor: Rotor, tC: number): number {
  const square = (tC + ZERO_C_IN_K) * (tC + ZERO_C_IN_K);
  return rotor.radiation * (square * square - rotor.ambient4);
}

/**
 * Carries a rotor over one step with the classical Runge-Kutta method of fourth order: m·c(T)·dT/dt = share·P −
 * h·A·(T − T∞) − ε·σ·A·(T⁴ − T∞⁴). The losses are integrated beside the temperature, not worked out from it, so
 * that heat in = heat kept + heat lost is a check of the step and not true by construction. Changes `state`. Steps in
 * s, power in W, temperatures in °C, losses in J. Never throws.
 *
 * @see Runge-Kutta method, textbook of numerical methods; lumped capacity, textbook of heat transfer
 */
export function advance(rotor: Rotor, { dt, power, h }: RotorStep, state: RotorState): void {
  const { heat, massKg, powerShare } = rotor;
  const t1 = state.tC;
  const c1 = convected(rotor, h[0], t1);
  const r1 = radiated(rotor, t1);
  const k1 = (power[0] * powerShare - c1 - r1) / (massKg * specificHeatAt(heat, t1));
  const t2 = t1 + (k1 * dt) / 2;
  const c2 = convected(rotor, h[1], t2);
  const r2 = radiated(rotor, t2);
  const k2 = (power[1] * powerShare - c2 - r2) / (massKg * specificHeatAt(heat, t2));
  const t3 = t1 + (k2 * dt) / 2;
  const c3 = convected(rotor, h[1], t3);
  const r3 = radiated(rotor, t3);
  const k3 = (power[1] * powerShare - c3 - r3) / (massKg * specificHeatAt(heat, t3));
  const t4 = t1 + k3 * dt;
  const c4 = convected(rotor, h[2], t4);
  const r4 = radiated(rotor, t4);
  const k4 = (power[2] * powerShare - c4 - r4) / (massKg * specificHeatAt(heat, t4));
  state.tC = t1 + ((k1 + 2 * (k2 + k3) + k4) * dt) / 6;
  state.convectedJ += ((c1 + 2 * (c2 + c3) + c4) * dt) / 6;
  state.radiatedJ += ((r1 + 2 * (r2 + r3) + r4) * dt) / 6;
}

/** What a rotor is made of. `carbon` is carbon fibre in carbon; the value for graphite stands for it. */
export type RotorMaterial = 'iron' | 'carbon';

/** One point of a specific heat table: J/(kg·K) at a temperature in °C. */
export interface SpecificHeatPoint {
  atC: number;
  jPerKgK: number;
}

/** A specific heat over temperature, tabulated every 10 K: c in J/(kg·K) and its integral in J/kg. */
export interface HeatCurve {
  readonly jPerKgK: Float64Array;
  readonly jPerKg: Float64Array;
}

const GRID_START_C = -100;
const GRID_STEP_K = 10;
const GRID_POINTS = 311;
const ZERO_C_IN_K = 273.15;
/** thermochemical calorie, J; NIST SP 811 appendix B, exact */
const CALORIE_J = 4.184;

const within = (value: number, low: number, high: number): number => Math.min(Math.max(value, low), high);

/**
 * Specific heat of carbon steel, J/(kg·K), at a temperature in °C; stands for grey cast iron. Held at its end values
 * below 20 and above 600 °C: the peak of the transformation near 735 °C is left out, so that a hotter rotor reads
 * too hot rather than too cold. Never throws.
 *
 * @see EN 1993-1-2:2005 3.4.1.2, equation for 20 to 600 °C (read in quotation)
 */
export function steelSpecificHeat(atC: number): number {
  const t = within(atC, 20, 600);
  return 425 + 0.773 * t - 1.69e-3 * t ** 2 + 2.22e-6 * t ** 3;
}

/**
 * Specific heat of graphite, J/(kg·K), at a temperature in °C; stands for carbon in carbon, whose specific heat hardly
 * depends on the grade. Held at its end values outside 250 to 3000 K. Never throws.
 *
 * @see Butland and Maddison 1973, least squares of the best data, as quoted in the NIST Chemistry WebBook (graphite)
 */
export function graphiteSpecificHeat(atC: number): number {
  const t = within(atC + ZERO_C_IN_K, 250, 3000);
  const calories = 0.538657 + 9.11129e-6 * t - 90.2725 / t - 43449.3 / t ** 2 + 1.59309e7 / t ** 3 - 1.43688e9 / t ** 4;
  return calories * 1000 * CALORIE_J;
}

/**
 * Tabulates a specific heat (J/(kg·K) over °C) from -100 to 3000 °C every 10 K, straight between the points, with its
 * exact integral. Beyond the ends the end values hold. Never throws. Source: linear interpolation, trapezium rule.
 */
export function heatCurve(specificHeat: (atC: number) => number): HeatCurve {
  const jPerKgK = new Float64Array(GRID_POINTS);
  const jPerKg = new Float64Array(GRID_POINTS);
  let before = 0;
  for (let i = 0; i < GRID_POINTS; i++) {
    const c = specificHeat(GRID_START_C + i * GRID_STEP_K);
    jPerKgK[i] = c;
    if (i > 0) jPerKg[i] = (jPerKg[i - 1] ?? 0) + ((before + c) / 2) * GRID_STEP_K;
    before = c;
  }
  return { jPerKgK, jPerKg };
}

/**
 * A curve through points in ascending temperature (at least one), straight between them and level outside; resampled
 * every 10 K. One point gives a constant specific heat. Never throws. J/(kg·K) over °C. Source: linear interpolation.
 */
export function heatCurveThrough(points: readonly SpecificHeatPoint[]): HeatCurve {
  return heatCurve((atC) => {
    const next = points.findIndex((point) => point.atC >= atC);
    const above = points[next === -1 ? points.length - 1 : next];
    const below = next > 0 ? points[next - 1] : above;
    if (above === undefined || below === undefined) return Number.NaN;
    const span = above.atC - below.atC;
    if (span <= 0) return above.jPerKgK;
    return below.jPerKgK + ((above.jPerKgK - below.jPerKgK) * (atC - below.atC)) / span;
  });
}

/** Grey cast iron, from `steelSpecificHeat`. */
export const IRON_HEAT: HeatCurve = heatCurve(steelSpecificHeat);
/** Carbon in carbon, from `graphiteSpecificHeat`. */
export const CARBON_HEAT: HeatCurve = heatCurve(graphiteSpecificHeat);

/**
 * Specific heat on the curve, J/(kg·K), at a temperature in °C. Not a number in, not a number out. Never throws.
 * Source: linear interpolation in the table.
 */
export function specificHeatAt({ jPerKgK }: HeatCurve, atC: number): number {
  const x = within((atC - GRID_START_C) / GRID_STEP_K, 0, GRID_POINTS - 1);
  const i = Math.min(Math.floor(x), GRID_POINTS - 2);
  const low = jPerKgK[i] ?? Number.NaN;
  const high = jPerKgK[i + 1] ?? Number.NaN;
  return low + (high - low) * (x - i);
}

/**
 * Heat held by one kilogram, J/kg, at a temperature in °C, counted from -100 °C: the integral of the curve. Never
 * throws. Source: trapezium rule, exact for straight lines.
 */
export function heatContentAt(curve: HeatCurve, atC: number): number {
  const x = within((atC - GRID_START_C) / GRID_STEP_K, 0, GRID_POINTS - 1);
  const i = Math.min(Math.floor(x), GRID_POINTS - 2);
  const nodeC = GRID_START_C + i * GRID_STEP_K;
  const insideC = GRID_START_C + x * GRID_STEP_K;
  const atNode = curve.jPerKgK[i] ?? Number.NaN;
  const atInside = specificHeatAt(curve, insideC);
  const inside = (curve.jPerKg[i] ?? Number.NaN) + ((atNode + atInside) / 2) * (insideC - nodeC);
  return inside + atInside * (atC - insideC);
}
