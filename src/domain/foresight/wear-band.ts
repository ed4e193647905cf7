import { normalProbability } from '../quantity.ts';

/** A reading of a part that wears: mm, after so many sessions on this part, counted on. */
export interface WearReading {
  sessions: number;
  mm: number;
}

/** How a kind of part wears, before anything is known of this car. */
export interface WearHabit {
  /** middle of the wear per session over cars, mm */
  middleMm: number;
  /** spread of it between cars: standard deviation of its logarithm */
  between: number;
  /** spread from session to session of one car, as a share of its rate */
  within: number;
  /** standard deviation of a reading, mm */
  reading: number;
}

/**
 * Where nothing was learned of other cars yet. The wear per session and its spreads are common practice, no source; a reading is half
 * of the expanded uncertainty of its usual instrument.
 */
export const WEAR_HABITS = {
  pad: { middleMm: 0.3, between: 0.6, within: 0.3, reading: 0.15 },
  tread: { middleMm: 0.12, between: 0.45, within: 0.25, reading: 0.1 },
  rotor: { middleMm: 0.02, between: 0.6, within: 0.3, reading: 0.01 },
} as const satisfies Record<string, WearHabit>;

/** A band that holds what will be in 90 of 100 cases (or as asked), mm. */
export interface WearBand {
  low: number;
  middle: number;
  high: number;
}

/** One wear rate that may be the car's, with what the readings say of it. */
interface Case {
  rate: number;
  /** variance that a session adds, mm² */
  spread: number;
  /** how well it fits, so that all cases together are 1 */
  weight: number;
  /** what is left now: mean and variance, mm and mm² */
  level: number;
  variance: number;
}

const RATES = 61;
const REACH = 3.5;

/**
 * What each wear rate would make of the readings: what is left now and how well they fit. For a given rate the level is a
 * walk with a drift that is read with errors, so its mean and variance are exact for normal errors.
 *
 * @see Kalman filter in one dimension, textbook; the rate by a grid over its prior (Bayes)
 */
function casesOf(readings: readonly WearReading[], habit: WearHabit): Case[] {
  const rates = ratesOf(habit);
  const followed = rates.map(({ rate, spread }) => follow(readings, habit, { rate, spread }));
  const logs = rates.map(({ logWeight }, at) => (followed[at]?.logFit ?? 0) + logWeight);
  const top = Math.max(...logs);
  const weights = logs.map((log) => Math.exp(log - top));
  const all = weights.reduce((sum, weight) => sum + weight, 0);
  return rates.map(({ rate, spread }, at) => {
    const { level = 0, variance = 0 } = followed[at] ?? {};
    return { rate, spread, level, variance, weight: (weights[at] ?? 0) / all };
  });
}

/** A wear rate before anything is known of the car. */
interface Rate extends Pick<Case, 'rate' | 'spread'> {
  logWeight: number;
}

const knownRates = new WeakMap<WearHabit, readonly Rate[]>();

/** They are asked for at every sign-off, for each part, and always the same. */
function ratesOf(habit: WearHabit): readonly Rate[] {
  const known = knownRates.get(habit);
  if (known !== undefined) return known;
  const rates = Array.from({ length: RATES }, (_, at) => {
    const z = REACH * ((2 * at) / (RATES - 1) - 1);
    const rate = habit.middleMm * Math.exp(z * habit.between);
    return { rate, spread: (rate * habit.within) ** 2, logWeight: -0.5 * z * z };
  });
  knownRates.set(habit, rates);
  return rates;
}

function follow(readings: readonly WearReading[], { reading }: WearHabit, { rate, spread }: Omit<Rate, 'logWeight'>) {
  const noise = reading ** 2;
  let [level, variance, logFit, before] = [0, Infinity, 0, 0];
  for (const { sessions, mm } of readings) {
    if (variance === Infinity) [level, variance] = [mm, noise];
    else {
      const driven = sessions - before;
      level -= rate * driven;
      variance += spread * driven;
      const total = variance + noise;
      const miss = mm - level;
      logFit -= 0.5 * (Math.log(total) + miss ** 2 / total);
      level += (variance / total) * miss;
      variance *= noise / total;
    }
    before = sessions;
  }
  return { level, variance, logFit };
}

/** What will be left in one case: mean and standard deviation, mm. */
interface End {
  weight: number;
  mean: number;
  sd: number;
}

function endsOf(cases: readonly Case[], sessions: number, { reading }: WearHabit, isRead: boolean): End[] {
  return cases.map(({ rate, spread, level, variance, weight }) => ({
    weight,
    mean: level - rate * sessions,
    sd: Math.sqrt(variance + spread * sessions + (isRead ? reading ** 2 : 0)),
  }));
}

function chanceBelow(ends: readonly End[], mm: number): number {
  let chance = 0;
  for (const { weight, mean, sd } of ends) chance += weight * normalProbability((mm - mean) / sd);
  return chance;
}

/** The value that is not reached with this chance, by halving; to 0.001 mm. */
function quantile(ends: readonly End[], share: number): number {
  let low = Math.min(...ends.map(({ mean, sd }) => mean - 6 * sd));
  let high = Math.max(...ends.map(({ mean, sd }) => mean + 6 * sd));
  while (high - low > 0.001) {
    const middle = (low + high) / 2;
    if (chanceBelow(ends, middle) < share) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/**
 * What will be left after so many more sessions, with a band of 90 %: from the readings of this part on this car, and before
 * them from what such parts usually do. mm. Pure; never throws.
 *
 * @param readings of one part, oldest first, sessions counted on; at least one
 * @param options `isRead`: the band of what will be read then, with the error of the reading; else of what will be there.
 *   `outside`: the share of cases that is outside the band, 0.1 if not said
 * @see Bayes over the wear rate; a walk with drift for the wear, `casesOf`
 */
export function wearBand(
  readings: readonly WearReading[],
  sessions: number,
  habit: WearHabit,
  { isRead = false, outside = 0.1 }: { isRead?: boolean; outside?: number } = {},
): WearBand {
  const cases = casesOf(readings, habit);
  const ends = endsOf(cases, sessions, habit, isRead);
  const [low, middle, high] = [outside / 2, 0.5, 1 - outside / 2].map((share) => quantile(ends, share));
  return { low: low ?? 0, middle: middle ?? 0, high: high ?? 0 };
}

/** Chance with which a part must last to be called safe. Common practice, no source. */
const SAFE = 0.95;
/** Nobody looks further ahead. */
const MOST_SESSIONS = 60;

/**
 * The sessions that a part lasts, with a chance of 95 %, before less than `limitMm` is left; 0: it may not last the next.
 * At most 60. Pure; never throws.
 *
 * @param most sessions that are looked at: how many more it would last is not asked
 */
export function lastSafeSession(
  readings: readonly WearReading[],
  limitMm: number,
  habit: WearHabit,
  most = MOST_SESSIONS,
): number {
  const cases = casesOf(readings, habit);
  const isSafe = (sessions: number) => chanceBelow(endsOf(cases, sessions, habit, false), limitMm) <= 1 - SAFE;
  let safe = 0;
  while (safe < Math.min(most, MOST_SESSIONS) && isSafe(safe + 1)) safe += 1;
  return safe;
}
