import { z } from 'zod';
import { roundTo } from '../../quantity.ts';
import { type BrakeDuty, DUTY_CLASSES, lapDuty, type PerAxle } from './brake-heat-duty.ts';
import type { BrakeHeatSensitivity } from './brake-heat-input.ts';
import { specificHeatAt } from './brake-heat-material.ts';
import {
  type BrakeHeatSession,
  type BrakeHeatSettings,
  type ConvergedSession,
  type RotorSession,
  steadyFromLap,
} from './brake-heat-session.ts';
import { adiabaticRiseK } from './brake-heat-lap.ts';

/** Rotor temperatures over a session for a plot; the four columns are equally long. */
interface BrakeHeatSeries {
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
function lastLapStops(session: BrakeHeatSession, of: 'front' | 'rear'): { startC: number; endC: number }[] {
  const { lap, laps, stepsPerLap, stretchStart } = session;
  const first = (laps - 1) * stepsPerLap;
  const at = (step: number): number => session[of].tC[first + step] ?? Number.NaN;
  return lap.stops.map((_, i) => {
    const start = stretchStart[2 * i + 1] ?? 0;
    return { startC: at(start), endC: at(stretchStart[2 * i + 2] ?? stepsPerLap) };
  });
}

const perAxle = (what: string) =>
  z.object({ front: z.number().describe(`Front, ${what}`), rear: z.number().describe(`Rear, ${what}`) });

const Stop = z.object({
  name: z.string().optional().describe('As given'),
  fromKmh: z.number().describe('km/h'),
  toKmh: z.number().describe('km/h'),
  durationS: z.number().describe('Time on the brakes, s'),
  brakeMJ: z.number().describe('Energy for the brakes of all wheels, MJ; drag and rolling are taken off'),
  rotorKJ: perAxle('heat into one rotor, kJ').describe('Heat into one rotor'),
  adiabaticRiseK: perAxle('K').describe('Rise of a rotor that starts at the start temperature and loses nothing'),
  lastLapRiseK: perAxle('K').describe('Rise in this stop in the last lap, losses counted'),
});

const Rotor = z.object({
  peakC: z.number().describe('Highest temperature, °C'),
  peakLap: z.number().describe('Lap of the highest temperature'),
  meanC: z.number().describe('Mean over the session, °C'),
  lastLapMeanC: z.number().describe('Mean over the last lap, °C'),
  lapPeakC: z.array(z.number()).describe('Highest temperature of each lap, °C'),
  heatMJ: z
    .object({
      in: z.number().describe('From the brakes, MJ'),
      kept: z.number().describe('Still in the rotor at the end, MJ'),
      convected: z.number().describe('Given to the air, MJ'),
      radiated: z.number().describe('Radiated, MJ'),
    })
    .describe('Where the heat of one rotor went over the session'),
});

/** What a venue asks of fluid and pads. */
export const BrakeDutyView = z.object({
  dutyClass: z.enum(DUTY_CLASSES).describe('How hard the lap is on brakes'),
  energyPerLapMJ: z.number().describe('Energy for the brakes of all wheels in a lap, MJ'),
  estimatedPeakC: perAxle('°C').describe('Highest rotor temperature'),
  fluidWetBoilingPointNeededC: z.number().describe('Wet boiling point asked of the brake fluid, °C; an estimate'),
  padHighTemperatureNeededC: perAxle('°C').describe("End of the pads' working range that is asked for; an estimate"),
});

/** Answer of the brake-heat computation. */
export const BrakeHeatResult = z.object({
  lap: z
    .object({
      timeS: z.number().describe('Lap time, s'),
      lengthM: z.number().describe('Length of the lap as the stretches add up, m'),
      kineticMJ: z.number().describe('Kinetic energy given up in the zones, MJ'),
      dragMJ: z.number().describe('Taken by drag in the zones, MJ'),
      rollingMJ: z.number().describe('Taken by rolling resistance in the zones, MJ'),
      brakeMJ: z.number().describe('Left for the brakes, MJ'),
      meanPowerWPerKg: z.number().describe('Braking power averaged over the lap per mass of car, W/kg'),
    })
    .describe('The whole lap'),
  laps: z.number().describe('Laps followed'),
  frontShare: z.number().describe('Part of the braking done by the front axle'),
  stops: z.array(Stop).describe('In the order of a lap'),
  front: Rotor.describe('One front rotor'),
  rear: Rotor.describe('One rear rotor'),
  steadyFromLap: z
    .number()
    .optional()
    .describe('First lap from which the peaks of following laps differ by less than 2 K; absent: not reached'),
  balanceError: z.number().describe('Heat in less heat kept and lost, as a share of heat in; the larger rotor'),
  convergence: z
    .object({
      brakingStepS: z.number().describe('Longest step while braking, s'),
      betweenStepS: z.number().describe('Longest step between stops, s'),
      halvingChangeK: z.number().describe('Change of the peak when every step was halved, K'),
    })
    .describe('Proof that the steps are short enough'),
  sensitivity: z
    .array(
      z.object({
        name: z.string().describe('What was moved'),
        assumed: z.boolean().describe('Whether it is an assumption and was not given'),
        change: z.enum(['±10 %', '±10 K']).describe('By how much'),
        lower: perAxle('K').optional().describe('Change of the peak when it is lower; absent: that cannot be'),
        higher: perAxle('K').optional().describe('Change of the peak when it is higher; absent: that cannot be'),
      }),
    )
    .describe('One at a time, all others as they are; the strongest first'),
  duty: BrakeDutyView.describe('What this asks of fluid and pads'),
  series: z
    .object({
      timeS: z.array(z.number()).describe('Seconds from the start'),
      lap: z.array(z.number()).describe('Lap, from 1'),
      frontC: z.array(z.number()).describe('Front rotor, °C'),
      rearC: z.array(z.number()).describe('Rear rotor, °C'),
    })
    .describe('Rotor temperatures over the session; columns of one length'),
});
export type BrakeHeatResult = z.infer<typeof BrakeHeatResult>;

/** What the view is made of. */
export interface BrakeHeatSolved {
  settings: BrakeHeatSettings;
  converged: ConvergedSession;
  sensitivity: readonly BrakeHeatSensitivity[];
  /** names of the assumptions */
  assumed: ReadonlySet<string>;
  duty: BrakeDuty;
}

const both = (value: (axle: 'front' | 'rear') => number, decimals: number): PerAxle => ({
  front: roundTo(value('front'), decimals),
  rear: roundTo(value('rear'), decimals),
});
const megajoules = (joules: number): number => roundTo(joules / 1e6, 3);

/**
 * Rounds a solved session to what its inputs can carry: whole °C for peaks, kJ for energies. Never throws. Source:
 * arithmetic on the session.
 */
export function brakeHeatResult(solved: BrakeHeatSolved): BrakeHeatResult {
  const { session, limits, halvingChangeK } = solved.converged;
  const { lap } = session;
  const total = (key: 'kineticJ' | 'dragJ' | 'rollingJ' | 'brakeJ') =>
    megajoules(lap.stops.reduce((sum, stop) => sum + stop[key], 0));
  const steady = steadyFromLap(session);
  return {
    lap: {
      timeS: roundTo(lap.timeS, 1),
      lengthM: roundTo(lap.lengthM, 0),
      kineticMJ: total('kineticJ'),
      dragMJ: total('dragJ'),
      rollingMJ: total('rollingJ'),
      brakeMJ: total('brakeJ'),
      meanPowerWPerKg: roundTo(lapDuty(session, solved.settings.massKg).wattsPerKg, 1),
    },
    laps: session.laps,
    frontShare: roundTo(session.frontShare, 3),
    stops: stopViews(solved),
    front: rotorView(session.front),
    rear: rotorView(session.rear),
    ...(steady === undefined ? {} : { steadyFromLap: steady }),
    balanceError: session.balanceError,
    convergence: { brakingStepS: limits.brakingS, betweenStepS: limits.betweenS, halvingChangeK },
    sensitivity: sensitivityView(solved),
    duty: dutyView(solved.duty),
    series: seriesView(solved),
  };
}

function stopViews({ settings, converged: { session } }: BrakeHeatSolved): BrakeHeatResult['stops'] {
  const last = { front: lastLapStops(session, 'front'), rear: lastLapStops(session, 'rear') };
  const axleShare = { front: session.frontShare, rear: 1 - session.frontShare };
  return settings.zones.map((zone, i) => {
    const { brakeJ = 0, durationS = 0 } = session.lap.stops[i] ?? {};
    const intoRotor = (axle: 'front' | 'rear') => (axleShare[axle] / 2) * settings[axle].rotorShare;
    const adiabatic = (axle: 'front' | 'rear') => {
      const { massKg, heat } = settings[axle];
      return adiabaticRiseK(brakeJ, intoRotor(axle), massKg, specificHeatAt(heat, settings.startC));
    };
    const rise = (axle: 'front' | 'rear') => (last[axle][i]?.endC ?? 0) - (last[axle][i]?.startC ?? 0);
    return {
      ...(zone.name === undefined ? {} : { name: zone.name }),
      fromKmh: zone.fromKmh,
      toKmh: zone.toKmh,
      durationS: roundTo(durationS, 2),
      brakeMJ: megajoules(brakeJ),
      rotorKJ: both((axle) => (brakeJ * intoRotor(axle)) / 1000, 1),
      adiabaticRiseK: both(adiabatic, 1),
      lastLapRiseK: both(rise, 1),
    };
  });
}

const rotorView = (rotor: RotorSession): BrakeHeatResult['front'] => ({
  peakC: roundTo(rotor.peakC, 0),
  peakLap: rotor.peakLap,
  meanC: roundTo(rotor.meanC, 0),
  lastLapMeanC: roundTo(rotor.lapMeanC.at(-1) ?? Number.NaN, 0),
  lapPeakC: rotor.lapPeakC.map((peak) => roundTo(peak, 0)),
  heatMJ: {
    in: megajoules(rotor.heatInJ),
    kept: megajoules(rotor.keptJ),
    convected: megajoules(rotor.convectedJ),
    radiated: megajoules(rotor.radiatedJ),
  },
});

function sensitivityView({ sensitivity, assumed }: BrakeHeatSolved): BrakeHeatResult['sensitivity'] {
  const size = ({ lower, higher }: BrakeHeatSensitivity) =>
    Math.max(...[lower, higher].flatMap((side) => [Math.abs(side?.front ?? 0), Math.abs(side?.rear ?? 0)]));
  const rounded = (side: PerAxle) => both((axle) => side[axle], 1);
  return [...sensitivity]
    .sort((a, b) => size(b) - size(a))
    .map(({ name, change, lower, higher }) => ({
      name,
      assumed: assumed.has(name),
      change,
      ...(lower === undefined ? {} : { lower: rounded(lower) }),
      ...(higher === undefined ? {} : { higher: rounded(higher) }),
    }));
}

const dutyView = (duty: BrakeDuty): BrakeHeatResult['duty'] => ({
  dutyClass: duty.dutyClass,
  energyPerLapMJ: roundTo(duty.energyPerLapMJ, 2),
  estimatedPeakC: both((axle) => duty.estimatedPeakC[axle], 0),
  fluidWetBoilingPointNeededC: roundTo(duty.fluidWetBoilingPointNeededC, 0),
  padHighTemperatureNeededC: both((axle) => duty.padHighTemperatureNeededC[axle], 0),
});

function seriesView({ converged: { session } }: BrakeHeatSolved): BrakeHeatResult['series'] {
  const { timeS, lap, frontC, rearC } = brakeHeatSeries(session);
  // thousands of temperatures for a plot: decimal rounding would cost a quarter of the whole answer
  const rounded = (values: readonly number[]) => values.map((value) => Math.round(value * 10) / 10);
  return { timeS: rounded(timeS), lap, frontC: rounded(frontC), rearC: rounded(rearC) };
}
