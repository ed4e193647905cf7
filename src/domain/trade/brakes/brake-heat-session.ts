import {
  brakePowerW,
  frontLoadShare,
  type Lap,
  type LapSize,
  layOutLap,
  type StoppingCar,
  type Stretch,
  type Zone,
} from './brake-heat-lap.ts';
import {
  advance,
  type Convection,
  convectionAt,
  heatContentAt,
  prepareRotor,
  type Rotor,
  type RotorSettings,
  type RotorState,
  type RotorStep,
} from './brake-heat-material.ts';
import { notComputable, type TradeFault, NotComputable } from '../calculation.ts';

/** Everything a session of laps depends on, in the units of the names. */
export interface BrakeHeatSettings extends StoppingCar, LapSize {
  zones: readonly Zone[];
  laps: number;
  /** share of the braking at the front; without it, as the axle loads are while braking */
  frontShare?: number | undefined;
  frontWeightShare: number;
  cgHeightMm: number;
  wheelbaseMm: number;
  ambientC: number;
  /** rotor temperature at the start */
  startC: number;
  convection: Convection;
  front: RotorSettings;
  rear: RotorSettings;
}

/** Longest step while braking and between stops, s. */
export interface StepLimits {
  brakingS: number;
  betweenS: number;
}

/** One rotor of an axle over the session. `tC` has one temperature per instant of the session's `timeS`. */
export interface RotorSession {
  tC: Float64Array;
  peakC: number;
  /** lap of the peak, from 1 */
  peakLap: number;
  meanC: number;
  lapPeakC: readonly number[];
  lapMeanC: readonly number[];
  heatInJ: number;
  keptJ: number;
  convectedJ: number;
  radiatedJ: number;
}

export interface BrakeHeatSession {
  lap: Lap;
  laps: number;
  frontShare: number;
  timeS: Float64Array;
  stepsPerLap: number;
  /** step of the lap at which each stretch begins */
  stretchStart: readonly number[];
  front: RotorSession;
  rear: RotorSession;
  /** largest |heat in − kept − lost| of the two rotors, as a share of the heat that went in */
  balanceError: number;
}

/** Steps that a session may take; beyond, an answer would hold up everybody else. */
const MAX_STEPS = 20_000;

/** Where halving begins. */
export const FIRST_STEPS: StepLimits = { brakingS: 1, betweenS: 4 };
/** Good to 0.6 K for any car as it comes to a track, without halving: for facts, which are worked out by the thousand. */
export const FACT_STEPS: StepLimits = { brakingS: 0.5, betweenS: 2 };

/**
 * Follows one rotor of each axle over a session: heated in each stop, cooled by convection and radiation all the time.
 * Each rotor is one temperature (lumped capacity). Heat in is added up from the energy of the stops, heat kept from
 * the integral of the specific heat, heat lost step by step, so the balance is a check.
 *
 * @throws NotComputable for values that cannot be (zero mass, zones that do not slow down, a lap too short, …)
 * @see lumped capacity; textbook of heat transfer
 */
export function solveBrakeHeat(settings: BrakeHeatSettings, limits: StepLimits = FIRST_STEPS): BrakeHeatSession {
  const { laps } = settings;
  const { lap, frontShare, steps, stretchStart } = prepare(settings, limits);
  const front = followRotor(settings, settings.front, frontShare, { lap, steps });
  const rear = followRotor(settings, settings.rear, 1 - frontShare, { lap, steps });
  const balanceError = Math.max(balanceErrorOf(front), balanceErrorOf(rear));
  const timeS = instants(steps, laps);
  return { lap, laps, frontShare, timeS, stepsPerLap: steps.length, stretchStart, front, rear, balanceError };
}

/**
 * The peak of one axle's rotors alone, °C; as `solveBrakeHeat`, for those who need no more.
 *
 * @throws NotComputable as `solveBrakeHeat`
 * @see `solveBrakeHeat`
 */
export function solvePeakC(settings: BrakeHeatSettings, axle: 'front' | 'rear', limits: StepLimits): number {
  const { lap, frontShare, steps } = prepare(settings, limits);
  const axleShare = axle === 'front' ? frontShare : 1 - frontShare;
  return followRotor(settings, settings[axle], axleShare, { lap, steps }).peakC;
}

function prepare(settings: BrakeHeatSettings, limits: StepLimits): Plan & { lap: Lap; frontShare: number } {
  assertUsable(settings);
  const lap = layOutLap(settings.zones, settings, settings);
  const frontShare =
    settings.frontShare ??
    frontLoadShare(settings.frontWeightShare, settings.decelerationG, settings.cgHeightMm, settings.wheelbaseMm);
  const plan = planSteps(lap.stretches, settings, limits);
  const total = plan.steps.length * settings.laps;
  if (total > MAX_STEPS)
    throw notComputable('/laps', 'too-many', `a session of ${total} steps is too long to work out`);
  return { ...plan, lap, frontShare };
}

const RANGES: readonly (readonly [name: string, value: (s: BrakeHeatSettings) => number, above: number, to: number])[] =
  [
    ['massKg', (s) => s.massKg, 0, 1e6],
    ['decelerationG', (s) => s.decelerationG, 0, 10],
    ['wheelbaseMm', (s) => s.wheelbaseMm, 0, 1e5],
    ['front/massKg', (s) => s.front.massKg * s.front.heatFactor, 0, 1e4],
    ['rear/massKg', (s) => s.rear.massKg * s.rear.heatFactor, 0, 1e4],
    ['laps', (s) => s.laps, 0, 1e4],
  ];

function assertUsable(settings: BrakeHeatSettings): void {
  const faults = RANGES.flatMap(([name, value, above, to]): TradeFault[] => {
    const found = value(settings);
    if (found > above && found <= to) return [];
    return [{ pointer: `/${name}`, code: 'impossible', detail: `must be above ${above} and at most ${to}` }];
  });
  const { frontShare = 0.5, laps } = settings;
  if (!(frontShare >= 0 && frontShare <= 1)) {
    faults.push({ pointer: '/frontShare', code: 'impossible', detail: 'must be a share from 0 to 1' });
  }
  if (!Number.isInteger(laps)) faults.push({ pointer: '/laps', code: 'impossible', detail: 'must be whole laps' });
  if (faults.length > 0) throw new NotComputable(faults);
}

interface Plan {
  steps: readonly RotorStep[];
  stretchStart: readonly number[];
}

function planSteps(stretches: readonly Stretch[], settings: BrakeHeatSettings, limits: StepLimits): Plan {
  const steps: RotorStep[] = [];
  const stretchStart: number[] = [];
  for (const stretch of stretches) {
    stretchStart.push(steps.length);
    const count = Math.ceil(stretch.durationS / (stretch.braking ? limits.brakingS : limits.betweenS));
    if (steps.length + count > MAX_STEPS)
      throw notComputable('/lapTimeS', 'too-long', 'the lap is too long to work out');
    for (let i = 0; i < count; i++) steps.push(planStep(stretch, settings, i / count, 1 / count));
  }
  return { steps, stretchStart };
}

function planStep(stretch: Stretch, settings: BrakeHeatSettings, at: number, length: number): RotorStep {
  const speed = (share: number): number => stretch.fromMs + (stretch.toMs - stretch.fromMs) * share;
  const speeds = [speed(at), speed(at + length / 2), speed(at + length)] as const;
  const power = (ms: number): number => (stretch.braking ? brakePowerW(settings, ms) : 0);
  const h = (ms: number): number => convectionAt(settings.convection, Math.max(ms, 0));
  return {
    dt: stretch.durationS * length,
    power: [power(speeds[0]), power(speeds[1]), power(speeds[2])],
    h: [h(speeds[0]), h(speeds[1]), h(speeds[2])],
  };
}

function followRotor(
  settings: BrakeHeatSettings,
  of: RotorSettings,
  axleShare: number,
  { lap, steps }: { lap: Lap; steps: readonly RotorStep[] },
): RotorSession {
  const rotor = prepareRotor(of, axleShare, settings.ambientC);
  const state: RotorState = { tC: settings.startC, convectedJ: 0, radiatedJ: 0 };
  const tC = new Float64Array(steps.length * settings.laps + 1);
  tC[0] = state.tC;
  const laps = Array.from({ length: settings.laps }, (_, i) =>
    followLap(rotor, steps, { state, tC, first: i * steps.length }),
  );
  const lapPeakC = laps.map(({ peakC }) => peakC);
  const lapMeanC = laps.map(({ meanC }) => meanC);
  const peakC = Math.max(...lapPeakC, settings.startC);
  const brakeJ = lap.stops.reduce((sum, stop) => sum + stop.brakeJ, 0) * settings.laps;
  const kept = heatContentAt(of.heat, state.tC) - heatContentAt(of.heat, settings.startC);
  return {
    tC,
    peakC,
    peakLap: Math.max(lapPeakC.indexOf(peakC), 0) + 1,
    meanC: lapMeanC.reduce((sum, mean) => sum + mean, 0) / settings.laps,
    lapPeakC,
    lapMeanC,
    heatInJ: brakeJ * rotor.powerShare,
    keptJ: kept * rotor.massKg,
    convectedJ: state.convectedJ,
    radiatedJ: state.radiatedJ,
  };
}

function followLap(
  rotor: Rotor,
  steps: readonly RotorStep[],
  { state, tC, first }: { state: RotorState; tC: Float64Array; first: number },
): { peakC: number; meanC: number } {
  let peakC = Number.NEGATIVE_INFINITY;
  let degreeSeconds = 0;
  let seconds = 0;
  for (const [i, step] of steps.entries()) {
    const before = state.tC;
    advance(rotor, step, state);
    tC[first + i + 1] = state.tC;
    peakC = Math.max(peakC, state.tC);
    degreeSeconds += ((before + state.tC) / 2) * step.dt;
    seconds += step.dt;
  }
  return { peakC, meanC: degreeSeconds / seconds };
}

function balanceErrorOf({ heatInJ, keptJ, convectedJ, radiatedJ }: RotorSession): number {
  const missing = Math.abs(heatInJ - keptJ - convectedJ - radiatedJ);
  return missing / Math.max(heatInJ, Math.abs(keptJ), 1);
}

function instants(steps: readonly RotorStep[], laps: number): Float64Array {
  const timeS = new Float64Array(steps.length * laps + 1);
  let at = 0;
  for (let i = 0; i < timeS.length - 1; i++) {
    at += steps[i % steps.length]?.dt ?? 0;
    timeS[i + 1] = at;
  }
  return timeS;
}

/** A session with the proof that its steps are short enough. */
export interface ConvergedSession {
  session: BrakeHeatSession;
  limits: StepLimits;
  /** how much the peaks change when every step is halved, K; the larger of the two axles */
  halvingChangeK: number;
}

/** Peaks may not change by more than this when the steps are halved, K. */
const HALVING_TOLERANCE_K = 0.05;

/**
 * Solves with shorter and shorter steps until halving them changes both peaks by less than 0.05 K and the energy
 * balance closes to 0.1 %, and gives the finer of the last two.
 *
 * @throws NotComputable as `solveBrakeHeat`, and `no-convergence` when the steps needed are too many
 * @see step halving, textbook of numerical methods
 */
export function solveConverged(settings: BrakeHeatSettings): ConvergedSession {
  let limits = FIRST_STEPS;
  let coarse = solveBrakeHeat(settings, limits);
  for (let halving = 0; halving < 8; halving++) {
    limits = { brakingS: limits.brakingS / 2, betweenS: limits.betweenS / 2 };
    const session = solveBrakeHeat(settings, limits);
    const halvingChangeK = Math.max(
      Math.abs(session.front.peakC - coarse.front.peakC),
      Math.abs(session.rear.peakC - coarse.rear.peakC),
    );
    if (halvingChangeK < HALVING_TOLERANCE_K && session.balanceError < 1e-3) return { session, limits, halvingChangeK };
    coarse = session;
  }
  throw notComputable('', 'no-convergence', 'the temperatures change too fast to be followed: check masses and areas');
}

/**
 * The first lap from which no lap's peak differs from the lap before by 2 K or more, on both axles: the session has
 * become quasi-steady. `undefined` when it has not within the laps driven. Never throws. The 2 K are common practice,
 * no source.
 */
export function steadyFromLap({ front, rear }: BrakeHeatSession, withinK = 2): number | undefined {
  const settled = front.lapPeakC.map((peak, i) => {
    if (i === 0) return false;
    const frontChange = Math.abs(peak - (front.lapPeakC[i - 1] ?? Number.NaN));
    const rearChange = Math.abs((rear.lapPeakC[i] ?? Number.NaN) - (rear.lapPeakC[i - 1] ?? Number.NaN));
    return frontChange < withinK && rearChange < withinK;
  });
  const lap = settled.lastIndexOf(false) + 2;
  return lap <= front.lapPeakC.length ? lap : undefined;
}
