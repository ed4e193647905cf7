/** A car that was inspected. */
export interface MeasuredCar {
  /** from claim to sign-off */
  minutes: number;
  /** findings that asked for a look */
  points: number;
  /** name of its run group; groups of one name at several events are one */
  group: string;
}

/** What a car is expected to take at the line, minutes. */
export interface MinutesPerCar {
  /** inspections it was learned from */
  measured: number;
  minutesFor(car: { points: number; group: string }): number;
}

/** Minutes of a car without a point, and for each point; from memory. */
const USUAL = { base: 6, perPoint: 0.7 };
/** The usual minutes weigh as much as so many measured cars; the steepness as much as so many points squared. From memory. */
const WEIGHT = { cars: 6, pointsSquared: 60 };
/** Who signs off sooner after the claim has typed in what was done before; that says nothing. Minutes. Common practice, no source. */
export const SHORTEST_MINUTES = 1;
/** A claim that was forgotten says no more than this, minutes. From memory. */
const LONGEST = 45;
/** A group of its own speed counts for half once so many of its cars were measured. From memory. */
const GROUP_CARS = 6;
/** No car is planned for less, minutes. */
const LEAST = 2;

const foldGroup = (name: string): string => name.trim().toLowerCase();

/**
 * Learns what cars take from those that were inspected: so many minutes, so many for each point, and what is particular to a
 * run group. With few of them it stays near what is usual. Pure; never throws.
 *
 * @see ridge regression towards a prior (normal equations, two unknowns); group means shrunk by their counts, textbook
 */
export function learnMinutes(cars: readonly MeasuredCar[]): MinutesPerCar {
  const seen = cars
    .filter(({ minutes }) => minutes >= SHORTEST_MINUTES)
    .map((car) => ({ ...car, minutes: Math.min(car.minutes, LONGEST), group: foldGroup(car.group) }));
  const sum = (of: (car: MeasuredCar) => number) => seen.reduce((total, car) => total + of(car), 0);
  // (n + w) a + Σx b = Σy + w a0;  Σx a + (Σx² + v) b = Σxy + v b0
  const n = seen.length + WEIGHT.cars;
  const x = sum(({ points }) => points);
  const xx = sum(({ points }) => points * points) + WEIGHT.pointsSquared;
  const y = sum(({ minutes }) => minutes) + WEIGHT.cars * USUAL.base;
  const xy = sum(({ points, minutes }) => points * minutes) + WEIGHT.pointsSquared * USUAL.perPoint;
  const perPoint = Math.max(0, (n * xy - x * y) / (n * xx - x * x));
  const base = (y - perPoint * x) / n;
  const groups = new Map<string, { count: number; over: number }>();
  for (const { group, minutes, points } of seen) {
    const known = groups.get(group) ?? { count: 0, over: 0 };
    groups.set(group, { count: known.count + 1, over: known.over + minutes - base - perPoint * points });
  }
  return {
    measured: seen.length,
    minutesFor({ points, group }) {
      const { count, over } = groups.get(foldGroup(group)) ?? { count: 0, over: 0 };
      return Math.max(LEAST, base + perPoint * points + over / (count + GROUP_CARS));
    },
  };
}
