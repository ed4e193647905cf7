import { type Timetable, sessionsPerDay } from '../log/timetable.ts';
import { daysBetween, type PlainDate } from '../calendar.ts';
import { WEAR_HABITS, wearBand, type WearReading } from './wear-band.ts';

/** A share with the interval in which the true one lies in 90 of 100 cases. */
export interface Share {
  count: number;
  of: number;
  low: number;
  high: number;
}

/** 90 % of the standard normal distribution, both sides. */
const Z_90 = 1.6448536269514722;

/**
 * A share of few cases, with its score interval: it stays between 0 and 1 and is not certain of what was never seen.
 *
 * @param count of `of` cases, whole numbers; with no cases all is possible
 * @see Wilson 1927, the interval whose ends differ from the share by `z` of their own standard errors
 */
export function shareOf(count: number, of: number, z = Z_90): Share {
  if (of === 0) return { count, of, low: 0, high: 1 };
  const p = count / of;
  const square = (z * z) / of;
  const middle = (p + square / 2) / (1 + square);
  const half = (z / (1 + square)) * Math.sqrt((p * (1 - p)) / of + square / (4 * of));
  return { count, of, low: Math.max(0, middle - half), high: Math.min(1, middle + half) };
}

/** Something that was said to happen with a chance, and whether it did. */
export interface Said {
  chance: number;
  happened: boolean;
}

/** How good chances were. */
export interface Calibration {
  /** mean of the chances of each bin, and what came of it; bins of about as many cases each, by chance */
  bins: { chance: number; share: Share }[];
  all: Share;
  /** mean square of chance less what came (0 or 1); the lower the better */
  score: number;
  /** the same for who always says how often it happens on the whole */
  plainScore: number;
  /** whether there are enough cases to judge by */
  isEnough: boolean;
}

/** With fewer cases, or fewer that happened, a good and a bad forecast look alike. Common practice, no source. */
export const ENOUGH = { cases: 60, happened: 8, perBin: 20 } as const;

/** Where a bin begins that would begin at `index`: what was said with one chance stays together. */
function startAt(sorted: readonly Said[], index: number): number {
  if (index >= sorted.length) return sorted.length;
  return sorted.findIndex(({ chance }) => chance === sorted[index]?.chance);
}

/**
 * Compares chances with what came. Pure; never throws.
 *
 * @see the score: Brier 1950, for one event
 */
export function calibrate(said: readonly Said[]): Calibration {
  const happened = said.filter((one) => one.happened).length;
  const mean = said.length === 0 ? 0 : happened / said.length;
  const squares = (of: (one: Said) => number): number =>
    said.reduce((sum, one) => sum + (of(one) - Number(one.happened)) ** 2, 0) / Math.max(1, said.length);
  const sorted = said.toSorted((a, b) => a.chance - b.chance);
  const count = Math.max(1, Math.min(10, Math.floor(said.length / ENOUGH.perBin)));
  const starts = Array.from({ length: count + 1 }, (_, i) => startAt(sorted, Math.round((i * sorted.length) / count)));
  const bins = starts.slice(1).flatMap((end, i) => {
    const bin = sorted.slice(starts[i], end);
    return bin.length === 0 ? [] : [bin];
  });
  return {
    bins: bins.map((bin) => ({
      chance: bin.reduce((sum, { chance }) => sum + chance, 0) / bin.length,
      share: shareOf(bin.filter((one) => one.happened).length, bin.length),
    })),
    all: shareOf(happened, said.length),
    score: squares(({ chance }) => chance),
    plainScore: squares(() => mean),
    isEnough: said.length >= ENOUGH.cases && happened >= ENOUGH.happened,
  };
}

/** Pads of a car as the line measured them at one event, mm by position. */
export interface MeasuredPads {
  startsOn: PlainDate;
  endsOn: PlainDate;
  sessions: Timetable;
  mm: Readonly<Record<string, number>>;
}

/** What the forecast would have said of a pad before it was measured again, and what was measured, mm. */
export interface Forecast {
  low: number;
  middle: number;
  high: number;
  measured: number;
}

/** A pad that is thicker than before by more than two gauges differ is another one, mm. Common practice, no source. */
const NEW_PAD_MM = 0.6;

/**
 * Forecasts each measurement of a pad from those before it on the same pad, by the method that entrants and the line are told by.
 *
 * @param events of one car, oldest first
 * @returns one for each measurement that has one before it
 */
export function forecastsOf(events: readonly MeasuredPads[]): Forecast[] {
  const positions = new Set(events.flatMap(({ mm }) => Object.keys(mm)));
  return [...positions].flatMap((position) => {
    const forecasts: Forecast[] = [];
    let readings: WearReading[] = [];
    let driven = 0;
    for (const { startsOn, endsOn, sessions, mm } of events) {
      const measured = mm[position];
      const last = readings.at(-1);
      if (measured !== undefined) {
        const isNew = last !== undefined && measured > last.mm + NEW_PAD_MM;
        if (last !== undefined && !isNew && driven > last.sessions) {
          const band = wearBand(readings, driven - last.sessions, WEAR_HABITS.pad, { isRead: true });
          forecasts.push({ ...band, measured });
        }
        readings = isNew ? [{ sessions: driven, mm: measured }] : [...readings, { sessions: driven, mm: measured }];
      }
      driven += sessionsPerDay(sessions, startsOn, endsOn) * (daysBetween(startsOn, endsOn) + 1);
    }
    return forecasts;
  });
}

/** How many measurements lay in the band that 90 of 100 should lie in. */
export const insideOf = (forecasts: readonly Forecast[]): Share =>
  shareOf(forecasts.filter(({ low, high, measured }) => measured >= low && measured <= high).length, forecasts.length);

/** What was looked at on cars of one kind. */
export interface KindLooks {
  item: string;
  kind: string;
  cars: string[];
  events: string[];
  looked: number;
  wrong: number;
}

/** The same fault on the same kind of car, with how often it is found on all other cars. */
export interface Repeated {
  item: string;
  kind: string;
  /** cars it was found on, looks at such cars, and events it was found at */
  cars: number;
  share: Share;
  events: number;
  elsewhere: Share;
}

/** Fewer cars, or one event, are chance or one garage. Common practice, no source. */
export const LEAST = { cars: 3, events: 2 } as const;

/**
 * Faults that were found on several cars of one kind at several events, and there more often than on others: the low end of the share
 * is above the share elsewhere. Counts only; the most cars first.
 *
 * @param looks one for each item and kind; `cars` and `events` are those where it was wrong
 */
export function repeatedFaults(looks: readonly KindLooks[]): Repeated[] {
  const all = new Map<string, { looked: number; wrong: number }>();
  for (const { item, looked, wrong } of looks) {
    const known = all.get(item) ?? { looked: 0, wrong: 0 };
    all.set(item, { looked: known.looked + looked, wrong: known.wrong + wrong });
  }
  return looks
    .flatMap(({ item, kind, cars, events, looked, wrong }) => {
      const { looked: seen, wrong: found } = all.get(item) ?? { looked, wrong };
      const share = shareOf(wrong, looked);
      const elsewhere = shareOf(found - wrong, seen - looked);
      const isMore = elsewhere.of === 0 || share.low > elsewhere.count / elsewhere.of;
      if (cars.length < LEAST.cars || events.length < LEAST.events || !isMore) return [];
      return [{ item, kind, cars: cars.length, share, events: events.length, elsewhere }];
    })
    .toSorted((a, b) => b.cars - a.cars || b.share.count / b.share.of - a.share.count / a.share.of);
}
