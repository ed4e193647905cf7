import { z } from 'zod';
import { measure, notComputable } from '../calculation.ts';

/** One measurement of a pad: friction material in mm after so many sessions, counted on without a gap. */
export interface PadReading {
  thicknessMm: number;
  sessions: number;
  /** this reading is the first of a new set of pads */
  padsChanged?: boolean | undefined;
}

export type PadWearMethod = 'least-squares' | 'worst-recent' | 'resolution' | 'energy';

/** How fast a pad wears, and which way of looking at the readings decided. */
interface PadWear {
  mmPerSession: number;
  method: PadWearMethod;
  /** slope of the best line through the readings of this set, mm per session */
  leastSquares: number;
  /** fastest wear between two neighbouring readings of the last three intervals, mm per session */
  worstRecent: number;
}

/** A pad is measured to 0.1 mm; less wear than that cannot be told from none. Common practice, no source. */
export const READING_RESOLUTION_MM = 0.1;
/** Wear per energy turned into heat at one wheel, mm/MJ; common practice, no source. */
export const DEFAULT_WEAR_MM_PER_MJ = 0.02;

const RECENT_INTERVALS = 3;
/** Sessions between two readings; wear over less than this says nothing. */
const LEAST_INTERVAL = 0.01;

/**
 * The readings of the set that is on the car now: from the last marked change on. Thickness in mm.
 *
 * @param at pointer to the readings, for faults
 * @throws NotComputable when there is none, sessions do not count up, a thickness is not a positive number, or a pad is
 *   thicker than before without a marked change (negative wear)
 * @see common practice, no source
 */
export function currentSet(readings: readonly PadReading[], at = ''): readonly PadReading[] {
  if (readings.length === 0) throw notComputable(at, 'missing', 'at least one reading is needed');
  for (const [i, reading] of readings.entries()) assertFollows(readings[i - 1], reading, `${at}/${i}`);
  const changed = readings.findLastIndex((reading) => reading.padsChanged === true);
  return readings.slice(Math.max(changed, 0));
}

function assertFollows(before: PadReading | undefined, reading: PadReading, at: string): void {
  const { thicknessMm, sessions } = reading;
  if (!(thicknessMm >= 0 && Number.isFinite(thicknessMm))) {
    throw notComputable(`${at}/thicknessMm`, 'impossible', 'a thickness is a number from 0 up');
  }
  if (!(sessions >= 0 && Number.isFinite(sessions))) {
    throw notComputable(`${at}/sessions`, 'impossible', 'sessions are counted from 0 up');
  }
  if (before === undefined) return;
  if (sessions - before.sessions < LEAST_INTERVAL) {
    const detail = `sessions count up by at least ${LEAST_INTERVAL}: ${sessions} does not come after ${before.sessions}`;
    throw notComputable(`${at}/sessions`, 'out-of-order', detail);
  }
  if (thicknessMm <= before.thicknessMm || reading.padsChanged === true) return;
  const detail = `pads do not grow: ${thicknessMm} mm after ${before.thicknessMm} mm; mark the reading padsChanged if the pads are new`;
  throw notComputable(`${at}/thicknessMm`, 'negative-wear', detail);
}

/**
 * Wear rate of the set that is on the car, mm per session: the fastest of the best line through all its readings
 * (least squares) and the worst of its last three intervals, because pads wear faster as they get thinner and hotter;
 * and never less than 0.1 mm over all of them, which a reading could not show.
 *
 * @throws NotComputable `missing` when there are fewer than two readings of the set, and as `currentSet`
 * @see common practice, no source; least squares is a textbook formula
 */
export function padWearFromHistory(readings: readonly PadReading[], at = ''): PadWear {
  const set = currentSet(readings, at);
  const first = set[0];
  const last = set.at(-1);
  if (first === undefined || last === undefined || set.length < 2) {
    throw notComputable(at, 'missing', 'two readings of the same pads are needed to see wear, or the braking energy');
  }
  const leastSquares = leastSquaresWear(set);
  const worstRecent = worstRecentWear(set);
  const resolution = READING_RESOLUTION_MM / (last.sessions - first.sessions);
  const candidates = [
    ['least-squares', leastSquares],
    ['worst-recent', worstRecent],
    ['resolution', resolution],
  ] as const;
  const [method, mmPerSession] = candidates.reduce((fastest, other) => (other[1] > fastest[1] ? other : fastest));
  return { mmPerSession, method, leastSquares, worstRecent };
}

function leastSquaresWear(set: readonly PadReading[]): number {
  const mean = (value: (reading: PadReading) => number) =>
    set.reduce((sum, reading) => sum + value(reading), 0) / set.length;
  const meanSessions = mean((reading) => reading.sessions);
  const meanMm = mean((reading) => reading.thicknessMm);
  const product = mean((reading) => (reading.sessions - meanSessions) * (reading.thicknessMm - meanMm));
  const square = mean((reading) => (reading.sessions - meanSessions) ** 2);
  return Math.max(-product / square, 0);
}

function worstRecentWear(set: readonly PadReading[]): number {
  const recent = set.slice(-RECENT_INTERVALS - 1);
  const rates = recent.slice(1).map((reading, i) => {
    const before = recent[i] ?? reading;
    return (before.thicknessMm - reading.thicknessMm) / (reading.sessions - before.sessions);
  });
  return Math.max(...rates);
}

/**
 * Wear rate from energy, mm per session, from MJ turned into heat at one wheel in a session and mm per MJ. Straight in
 * the energy: pads that run above their range wear faster than that. Never throws.
 *
 * @see common practice, no source
 */
export const padWearFromEnergy = (megajoulesPerSession: number, mmPerMJ = DEFAULT_WEAR_MM_PER_MJ): number =>
  megajoulesPerSession * mmPerMJ;

/** Where a pad stands after the sessions to come. */
export interface PadOutlook {
  /** never below 0, mm */
  endThicknessMm: number;
  /** whole sessions after which the pad is not below the minimum yet */
  sessionsLeft: number;
}

/**
 * Carries a thickness (mm) on at a wear rate (mm per session, above 0).
 *
 * @throws NotComputable at `/mmPerSession` for a rate that is not above 0: such a pad would last for ever
 * @see derived
 */
export function padOutlook(
  thicknessMm: number,
  mmPerSession: number,
  plan: { sessionsToCome: number; minimumMm: number },
): PadOutlook {
  if (!(mmPerSession > 0))
    throw notComputable('/mmPerSession', 'impossible', 'a pad in use wears: the rate must be above 0');
  const left = (thicknessMm - plan.minimumMm) / mmPerSession;
  return {
    endThicknessMm: Math.max(thicknessMm - mmPerSession * plan.sessionsToCome, 0),
    // 1e-9: a pad that ends exactly on the minimum has reached that session, whatever the last binary digit says
    sessionsLeft: Math.max(Math.floor(left + 1e-9), 0),
  };
}

/** Least friction material at the end of an event, mm; common practice, no source. */
export const DEFAULT_END_MINIMUM_MM = 2;
/** Below this a pad fails the road test: DVSA inspection manual for cars 3.5 (2012 on), read in quotation. */
export const ROAD_TEST_FLOOR_MM = 1.5;

/** Wheel, and inner or outer pad. */
export const PAD_POSITIONS = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'] as const;
export type PadPosition = (typeof PAD_POSITIONS)[number];

const reading = z.strictObject({
  thicknessMm: measure('mm', 'Friction material, backing plate excluded', { min: 0, max: 40 }),
  sessions: z.number().min(0).max(100_000).describe('Sessions driven: see `counting`'),
  padsChanged: z.boolean().optional().describe('This reading is the first of new pads'),
});

const perAxleEnergy = z
  .strictObject({
    front: z.number().positive().max(1000).optional().describe('One front wheel, MJ per session'),
    rear: z.number().positive().max(1000).optional().describe('One rear wheel, MJ per session'),
  })
  .describe('Braking energy of one wheel in a session; decides where there are no two readings of the pads');

/** Request body of the pad forecast. */
export const PadForecastInput = z.strictObject({
  pads: z
    .array(
      z.strictObject({
        position: z.enum(PAD_POSITIONS).describe('Wheel, and inner or outer pad'),
        history: z.array(reading).min(1).max(200).describe('Oldest first'),
      }),
    )
    .min(1)
    .max(PAD_POSITIONS.length)
    .describe('Pads to forecast'),
  counting: z
    .enum(['cumulative', 'per-event'])
    .default('cumulative')
    .describe('`sessions` counts on from reading to reading, or counts those since the reading before'),
  sessionsToCome: z.int().min(0).max(1000).describe('Sessions from the last reading to the end of the event'),
  minimumMm: measure('mm', `Least at the end; ${DEFAULT_END_MINIMUM_MM} mm where not given`, {
    min: 0,
    max: 40,
  }).optional(),
  energyPerSessionMJ: perAxleEnergy.optional(),
  wearMmPerMJ: z
    .number()
    .positive()
    .max(10)
    .optional()
    .describe(`Wear per energy at one wheel, mm/MJ; ${DEFAULT_WEAR_MM_PER_MJ} where not given`),
});
export type PadForecastInput = z.infer<typeof PadForecastInput>;

const point = z.object({
  session: z.number().describe('Sessions driven'),
  thicknessMm: z.number().describe('Friction material, mm'),
});

/** Answer of the pad forecast. */
export const PadForecastResult = z.object({
  minimumMm: z.number().describe('Least friction material at the end, mm'),
  enough: z.boolean().describe('Whether every pad given ends at or above the minimum'),
  firstToWearOut: z.enum(PAD_POSITIONS).describe('The pad that reaches the minimum first'),
  pads: z
    .array(
      z.object({
        position: z.enum(PAD_POSITIONS).describe('Wheel, and inner or outer pad'),
        thicknessMm: z.number().describe('At the last reading, mm'),
        mmPerSession: z.number().describe('Wear that the forecast uses, mm per session'),
        method: z
          .enum(['least-squares', 'worst-recent', 'resolution', 'energy'])
          .describe('What decided the wear: the fastest of the ways that the readings allow, or the energy'),
        endThicknessMm: z.number().describe('At the end of the event, mm'),
        sessionsLeft: z.number().describe('Whole sessions before the pad is below the minimum'),
        enough: z.boolean().describe('Whether it ends at or above the minimum'),
        belowRoadTest: z.boolean().describe(`Whether it ends below the road-test floor of ${ROAD_TEST_FLOOR_MM} mm`),
        series: z
          .object({
            measured: z.array(point).describe('Readings of the pads that are on the car'),
            forecast: z.array(point).describe('Straight from the last reading to the end of the event'),
          })
          .describe('For a plot'),
      }),
    )
    .describe('In the order given'),
});
export type PadForecastResult = z.infer<typeof PadForecastResult>;
