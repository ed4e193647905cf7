import { type HeatCurve, specificHeatAt } from './brake-heat-material.ts';

/** W/(m²·K⁴); CODATA 2018, exact since 2019 (from memory) */
export const STEFAN_BOLTZMANN = 5.670374419e-8;

const ZERO_C_IN_K = 273.15;

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
