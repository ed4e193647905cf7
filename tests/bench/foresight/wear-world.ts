import { openRandom, seedOf } from '../../../src/domain/foresight/random.ts';

/** One thing that wears on one car, over a season: mm over sessions driven. */
export interface WearSeason {
  /** what was read, and after how many sessions on this part */
  readings: { sessions: number; mm: number }[];
  /** sessions to come */
  ahead: number;
  /** what will be read after them */
  readAfter: number;
  /** an interval that holds what will be read in 90 of 100 worlds like this one, known to the world alone */
  trueInterval: { low: number; high: number };
}

/** How a kind of part wears, as the generator has it. */
export interface WearKind {
  newMm: number;
  /** middle of the wear per session over all cars, mm */
  middleMm: number;
  /** spread of it between cars, as the standard deviation of its logarithm */
  between: number;
  /** spread from session to session of one car, as a share of its own rate */
  within: number;
  /** standard deviation of a reading, mm */
  reading: number;
}

export const WEAR_KINDS = {
  pad: { newMm: 11, middleMm: 0.3, between: 0.5, within: 0.3, reading: 0.15 },
  tread: { newMm: 6.5, middleMm: 0.12, between: 0.4, within: 0.25, reading: 0.1 },
  rotor: { newMm: 28, middleMm: 0.02, between: 0.5, within: 0.3, reading: 0.01 },
} as const satisfies Record<string, WearKind>;

/** Worlds that are drawn to know the interval. */
const DRAWS = 800;

/** The season of one part: six to fourteen readings, as the log of two or three events has them, one to four sessions apart, then two to eight sessions to come. */
export function makeWearSeason(seed: number, kind: WearKind): WearSeason {
  const random = openRandom(seedOf(seed, 503));
  const rate = kind.middleMm * Math.exp(random.normal() * kind.between);
  const shape = 1 / kind.within ** 2;
  const wear = (sessions: number) => (rate * random.gamma(shape * sessions)) / shape;
  const read = (mm: number) => mm + random.normal() * kind.reading;
  const readings: WearSeason['readings'] = [];
  let sessions = 0;
  let mm = kind.newMm * (0.7 + random.uniform() * 0.3);
  const count = 6 + random.below(9);
  for (let at = 0; at < count; at += 1) {
    if (at > 0) {
      const driven = 1 + random.below(4);
      sessions += driven;
      mm -= wear(driven);
    }
    readings.push({ sessions, mm: read(mm) });
  }
  const ahead = 2 + random.below(7);
  const drawn = Array.from({ length: DRAWS }, () => read(mm - wear(ahead))).toSorted((a, b) => a - b);
  return {
    readings,
    ahead,
    readAfter: read(mm - wear(ahead)),
    trueInterval: { low: drawn[Math.floor(DRAWS * 0.05)] ?? 0, high: drawn[Math.floor(DRAWS * 0.95)] ?? 0 },
  };
}
