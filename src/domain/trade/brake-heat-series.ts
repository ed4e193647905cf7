import type { BrakeHeatSession } from './brake-heat-session.ts';

/** Rotor temperatures over a session for a plot; the four columns are equally long. */
export interface BrakeHeatSeries {
  timeS: number[];
  /** lap that the instant belongs to, from 1 */
  lap: number[];
  frontC: number[];
  rearC: number[];
}

/** More points than a plot shows apart. */
const MAX_POINTS = 3000;

/**
 * Rotor temperatures over the session at every step, or, where that would be over 3000 points, at the ends of stops
 * and of the ways between them. Seconds and °C, not rounded. Never throws. Source: the session, `solveBrakeHeat`.
 */
export function brakeHeatSeries(session: BrakeHeatSession): BrakeHeatSeries {
  const { timeS, front, rear, stepsPerLap, stretchStart } = session;
  const all = timeS.length <= MAX_POINTS;
  const starts = new Set(stretchStart);
  const kept = [...timeS.keys()].filter((i) => all || i === timeS.length - 1 || starts.has(i % stepsPerLap));
  return {
    timeS: kept.map((i) => timeS[i] ?? 0),
    lap: kept.map((i) => Math.max(Math.ceil(i / stepsPerLap), 1)),
    frontC: kept.map((i) => front.tC[i] ?? Number.NaN),
    rearC: kept.map((i) => rear.tC[i] ?? Number.NaN),
  };
}

/**
 * Rotor temperature at the beginning and the end of each stop of the last lap, °C, in lap order. Never throws. Source:
 * the session, `solveBrakeHeat`.
 */
export function lastLapStops(session: BrakeHeatSession, of: 'front' | 'rear'): { startC: number; endC: number }[] {
  const { lap, laps, stepsPerLap, stretchStart } = session;
  const first = (laps - 1) * stepsPerLap;
  const at = (step: number): number => session[of].tC[first + step] ?? Number.NaN;
  return lap.stops.map((_, i) => {
    const start = stretchStart[2 * i + 1] ?? 0;
    return { startC: at(start), endC: at(stretchStart[2 * i + 2] ?? stepsPerLap) };
  });
}
