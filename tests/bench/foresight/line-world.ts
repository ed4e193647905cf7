import { openRandom, seedOf } from '../../../src/domain/foresight/random.ts';

/** A car of a generated morning; minutes from when the line opens. */
export interface MorningCar {
  id: string;
  sessionAt: number;
  /** what the line expects this car to take, minutes */
  meanMinutes: number;
  /** what it will take, minutes; nobody knows it before */
  serviceMinutes: number;
  /** minutes after its appointment at which it comes, negative: before; nobody knows it before */
  lateBy: number;
  /** never comes */
  isAbsent: boolean;
  /** when it would come if nobody had told it a time */
  comesUntold: number;
}

/** A generated morning at the tech line. */
export interface Morning {
  inspectors: number;
  cars: readonly MorningCar[];
}

/** What kind of morning it is. */
export interface MorningKind {
  /** share of the inspectors' time that the cars take before each first session */
  load: number;
  /** share of cars that never come */
  absent: number;
  /** share of cars that are late, and by how many minutes on average */
  late: { share: number; meanMinutes: number };
}

/** First sessions of the groups, minutes after the line opens. */
const SESSIONS = [120, 150, 180, 210];
/** Spread of what a car takes around its mean, as a share of it. */
const SERVICE_CV = 0.5;
/** Cars come this much before their appointment when they are on time, minutes. */
const EARLIEST = 10;

/** A morning with two to five inspectors and four groups; the same for the same seed. */
export function makeMorning(seed: number, { load, absent, late }: MorningKind): Morning {
  const random = openRandom(seedOf(seed, 501));
  const inspectors = 2 + random.below(4);
  const cars: MorningCar[] = [];
  let work = 0;
  for (const [group, sessionAt] of SESSIONS.entries()) {
    while (true) {
      const meanMinutes = 5 + random.gamma(2) * 1.5;
      if (work + meanMinutes > load * inspectors * sessionAt) break;
      work += meanMinutes;
      const shape = 1 / SERVICE_CV ** 2;
      const isLate = random.uniform() < late.share;
      cars.push({
        id: `${group}-${cars.length}`,
        sessionAt,
        meanMinutes,
        serviceMinutes: (meanMinutes * random.gamma(shape)) / shape,
        lateBy: isLate ? -Math.log(1 - random.uniform()) * late.meanMinutes : -random.uniform() * EARLIEST,
        isAbsent: random.uniform() < absent,
        // Most come when the gates open, the rest before their own session.
        comesUntold: random.uniform() < 0.6 ? random.normal() * 15 : random.uniform() * (sessionAt - 30),
      });
    }
  }
  return { inspectors, cars };
}
