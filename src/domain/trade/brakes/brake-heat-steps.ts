import { type BrakeDuty, type BrakeMargins, lapDuty } from './brake-heat-duty.ts';
import { convectionAt, specificHeatAt } from './brake-heat-material.ts';
import type { BrakeHeatSession, BrakeHeatSettings } from './brake-heat-session.ts';
import { adiabaticRiseK, metresPerSecond } from './brake-heat-lap.ts';
import type { WorkStep } from '../calculation.ts';
import { STANDARD_GRAVITY } from './stop-distance.ts';

/** Four digits: more than the inputs carry, enough to follow with a pocket calculator. */
const n = (value: number, digits = 4): string => `${Number(value.toPrecision(digits))}`;
const mj = (joules: number): string => n(joules / 1e6);

/**
 * The formulas with their numbers, for the stop with the most energy, one front rotor and the whole lap. Never throws.
 * Units stand in the texts.
 *
 * @see `solveBrakeHeat`
 */
export function brakeHeatSteps(
  settings: BrakeHeatSettings,
  session: BrakeHeatSession,
  { duty, margins }: { duty: BrakeDuty; margins: BrakeMargins },
): WorkStep[] {
  return [...stopSteps(settings, session), ...lapSteps(settings, session), ...needSteps(settings, duty, margins)];
}

function hardestStop(session: BrakeHeatSession): number {
  const energies = session.lap.stops.map((stop) => stop.brakeJ);
  return energies.indexOf(Math.max(...energies));
}

function stopSteps(settings: BrakeHeatSettings, session: BrakeHeatSession): WorkStep[] {
  const index = hardestStop(session);
  const stop = session.lap.stops[index];
  const zone = settings.zones[index];
  if (stop === undefined || zone === undefined) return [];
  const v1 = n(metresPerSecond(zone.fromKmh));
  const v2 = n(metresPerSecond(zone.toKmh));
  const a = n(settings.decelerationG * STANDARD_GRAVITY);
  const where = zone.name ?? `zone ${index + 1}`;
  const { rotorShare, massKg, heat } = settings.front;
  const c = specificHeatAt(heat, settings.startC);
  const share = (session.frontShare / 2) * rotorShare;
  return [
    {
      what: `Kinetic energy given up in the hardest stop (${where})`,
      formula: 'E = ½·m·(v1² − v2²)',
      numbers: `½·${n(settings.massKg)} kg·(${v1}² − ${v2}²) m²/s²`,
      result: `${mj(stop.kineticJ)} MJ`,
    },
    {
      what: 'Taken by drag in that stop',
      formula: 'Ed = ρ·CdA·(v1⁴ − v2⁴)/(8·a)',
      numbers: `${n(settings.airDensityKgM3)} kg/m³·${n(settings.dragAreaM2)} m²·(${v1}⁴ − ${v2}⁴)/(8·${a} m/s²)`,
      result: `${mj(stop.dragJ)} MJ`,
    },
    {
      what: 'Taken by rolling resistance in that stop',
      formula: 'Er = f·m·g·s, s = (v1² − v2²)/(2·a)',
      numbers: `${n(settings.rollingCoefficient)}·${n(settings.massKg)} kg·9.80665 m/s²·${n(stop.distanceM)} m`,
      result: `${mj(stop.rollingJ)} MJ`,
    },
    {
      what: 'Left for the brakes of all wheels',
      formula: 'Eb = E − Ed − Er',
      numbers: `${mj(stop.kineticJ)} − ${mj(stop.dragJ)} − ${mj(stop.rollingJ)} MJ`,
      result: `${mj(stop.brakeJ)} MJ`,
    },
    frontShareStep(settings, session),
    {
      what: 'Rise of one front rotor in that stop if it lost nothing (from the start temperature)',
      formula: 'ΔT = Eb·(front share/2)·(rotor share)/(m·c)',
      numbers: `${mj(stop.brakeJ)} MJ·(${n(session.frontShare)}/2)·${n(rotorShare)}/(${n(massKg)} kg·${n(c)} J/(kg·K))`,
      result: `${n(adiabaticRiseK(stop.brakeJ, share, massKg, c))} K`,
    },
  ];
}

function frontShareStep(settings: BrakeHeatSettings, session: BrakeHeatSession): WorkStep {
  const what = 'Part of the braking done by the front axle';
  const result = n(session.frontShare);
  if (settings.frontShare !== undefined) return { what, formula: 'as given', numbers: result, result };
  const { frontWeightShare, decelerationG, cgHeightMm, wheelbaseMm } = settings;
  return {
    what,
    formula: 'at rest + (a/g)·h/L',
    numbers: `${n(frontWeightShare)} + ${n(decelerationG)}·${n(cgHeightMm)} mm/${n(wheelbaseMm)} mm`,
    result,
  };
}

function lapSteps(settings: BrakeHeatSettings, session: BrakeHeatSession): WorkStep[] {
  const { lap, front } = session;
  const { energyMJ, wattsPerKg } = lapDuty(session, settings.massKg);
  const meanMs = lap.lengthM / lap.timeS;
  const { still, factor, exponent } = settings.convection;
  return [
    {
      what: 'Energy for the brakes in a lap',
      formula: 'sum of Eb over the zones',
      numbers: lap.stops.map((stop) => mj(stop.brakeJ)).join(' + '),
      result: `${n(energyMJ)} MJ`,
    },
    {
      what: 'Braking power averaged over the lap, per mass of car',
      formula: 'P/m = Eb/(t·m)',
      numbers: `${n(energyMJ)} MJ/(${n(lap.timeS)} s·${n(settings.massKg)} kg)`,
      result: `${n(wattsPerKg)} W/kg`,
    },
    {
      what: 'Heat transfer to the air at the mean speed of the lap',
      formula: 'h = still + factor·vⁿ',
      numbers: `${n(still)} + ${n(factor)}·${n(meanMs)}^${n(exponent)}`,
      result: `${n(convectionAt(settings.convection, meanMs))} W/(m²·K)`,
    },
    {
      what: 'Front rotor over the session, stepped by Runge-Kutta of fourth order; balance of its heat',
      formula: 'm·c(T)·dT/dt = P − h·A·(T − T∞) − ε·σ·A·(T⁴ − T∞⁴); in = kept + convected + radiated',
      numbers: `${mj(front.heatInJ)} = ${mj(front.keptJ)} + ${mj(front.convectedJ)} + ${mj(front.radiatedJ)} MJ`,
      result: `peak ${n(front.peakC, 3)} °C in lap ${front.peakLap}`,
    },
  ];
}

function needSteps({ ambientC }: BrakeHeatSettings, duty: BrakeDuty, margins: BrakeMargins): WorkStep[] {
  const { estimatedPeakC: peak, padHighTemperatureNeededC: pads } = duty;
  const hotter = Math.max(peak.front, peak.rear);
  const { fluidRiseShare, fluidMarginK, padMarginK } = margins;
  return [
    {
      what: 'Wet boiling point asked of the fluid',
      formula: 'air + share·(peak − air) + margin',
      numbers: `${n(ambientC)} °C + ${n(fluidRiseShare)}·(${n(hotter, 3)} − ${n(ambientC)}) K + ${n(fluidMarginK)} K`,
      result: `${n(duty.fluidWetBoilingPointNeededC, 3)} °C`,
    },
    {
      what: 'End of the range asked of the front pads',
      formula: 'peak + margin',
      numbers: `${n(peak.front, 3)} °C + ${n(padMarginK)} K`,
      result: `${n(pads.front, 3)} °C`,
    },
  ];
}
