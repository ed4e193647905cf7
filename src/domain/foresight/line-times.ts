import { type ComingCar, type Day, peopleAt, runDay, type Shift, stretchesOf } from './line-day.ts';
import { openRandom, seedOf } from './random.ts';

/** A car that needs a time at the line; minutes from any beginning, the same for all. */
export interface CarToPlace {
  id: string;
  /** must be done by then */
  dueAt: number;
  /** what it is expected to take */
  meanMinutes: number;
}

/** What is expected of cars and inspections. All shares from 0 to 1. */
interface LineHabits {
  /** spread of what a car takes, as the standard deviation over the mean */
  serviceSpread: number;
  /** share of cars that never come */
  absent: number;
  /** share of cars that are late, and by how much on average, minutes */
  late: { share: number; meanMinutes: number };
}

/** Where nothing was learned here yet. Common practice, no source. */
export const USUAL_HABITS: LineHabits = { serviceSpread: 0.5, absent: 0.05, late: { share: 0.1, meanMinutes: 10 } };

/** A time for each car, and what comes of it. */
export interface LinePlan {
  /** when each should be at the line, in the order of their turns */
  times: readonly { id: string; at: number }[];
  /** how it was spaced: cars asked for at the opening, and the stretch of the steps between the others */
  spacing: Spacing;
  /** expected wait, minutes */
  meanWait: number;
  /** share of imagined days on which every car that came was done in time */
  allInTime: number;
  /** cars that come and are not done in time, on average */
  missing: number;
  /** per car the share of imagined days on which it comes and is not done in time; those without one always are */
  missShares: ReadonlyMap<string, number>;
}

interface Spacing {
  atStart: number;
  stretch: number;
}

/** Imagined days per plan: the share of days is known to 0.02 at 0.95 (binomial). */
const DAYS = 120;
/** Share of days on which all must be in time before a plan is called safe. */
export const SAFE_SHARE = 0.95;
/** The shortest steps, as a share of the expected work. */
const TIGHTEST = 0.9;
const STRETCHES = [TIGHTEST, 0.95, 1, 1.05, 1.1, 1.18];
/** On-time cars come up to this much before their time, minutes. Common practice, no source. */
const EARLIEST = 10;

/** Inspector-minutes turned into the clock: the inverse of the capacity that has been on the line so far. */
function clockOf(shifts: readonly Shift[]): (work: number) => number {
  const parts = stretchesOf(shifts);
  return (work) => {
    let left = work;
    for (const { from, to, people } of parts) {
      const holds = people * (to - from);
      if (left < holds) return from + left / people;
      left -= holds;
    }
    return parts.at(-1)?.to ?? 0;
  };
}

/** Times by a rule of spacing: so many at the opening, then one step of expected work after the other. */
export function spaceOut(cars: readonly CarToPlace[], shifts: readonly Shift[], { atStart, stretch }: Spacing) {
  const clock = clockOf(shifts);
  const ordered = cars.toSorted((a, b) => a.dueAt - b.dueAt);
  let work = 0;
  return ordered.map(({ id }, at) => {
    const before = ordered[at - atStart];
    if (before !== undefined) work += before.meanMinutes;
    return { id, at: Math.floor(clock(work * stretch)) };
  });
}

/** What chance does with a car on an imagined day; `lateBy` in minutes after its time, `undefined`: it never comes. */
interface Chance {
  minutes: number;
  lateBy: number | undefined;
}

/** What chance does with each car on each imagined day, in the order of the cars; the same for every plan that is compared. */
function imagine(cars: readonly CarToPlace[], habits: LineHabits, seed: number): Chance[][] {
  const shape = 1 / habits.serviceSpread ** 2;
  return Array.from({ length: DAYS }, (_, day) => {
    const random = openRandom(seedOf(seed, day));
    return cars.map(({ meanMinutes }) => {
      const minutes = (meanMinutes * random.gamma(shape)) / shape;
      const isAbsent = random.uniform() < habits.absent;
      const isLate = random.uniform() < habits.late.share;
      const by = random.uniform();
      const lateBy = isLate ? -Math.log(1 - by) * habits.late.meanMinutes : -by * EARLIEST;
      return { minutes, lateBy: isAbsent ? undefined : lateBy };
    });
  });
}

/** Cars in the order of their turns, with the days that are imagined for them. */
interface Question {
  cars: readonly CarToPlace[];
  shifts: readonly Shift[];
  days: readonly (readonly Chance[])[];
}

function outcomeOf({ cars, shifts, days }: Question, spacing: Spacing): LinePlan {
  const times = spaceOut(cars, shifts, spacing);
  const results = days.map((day): Day => {
    const coming = cars.map(({ dueAt }, at): ComingCar => {
      const turn = times[at]?.at ?? 0;
      const { minutes, lateBy } = day[at] ?? { minutes: 0, lateBy: undefined };
      return { comesAt: lateBy === undefined ? undefined : turn + lateBy, minutes, turn, dueAt };
    });
    return runDay(coming, shifts);
  });
  let [waited, met] = [0, 0];
  for (const { waits } of results) {
    for (const wait of waits) {
      if (wait === undefined) continue;
      waited += wait;
      met += 1;
    }
  }
  return {
    times,
    spacing,
    meanWait: waited / Math.max(1, met),
    allInTime: results.filter(({ missed }) => missed === 0).length / results.length,
    missing: results.reduce((sum, { missed }) => sum + missed, 0) / results.length,
    missShares: missSharesOf(times, results),
  };
}

function missSharesOf(times: readonly { id: string }[], days: readonly Day[]): LinePlan['missShares'] {
  const counted = times.map(({ id }, at) => [id, days.filter(({ isMissed }) => isMissed[at]).length] as const);
  return new Map(counted.flatMap(([id, count]) => (count === 0 ? [] : [[id, count / days.length] as const])));
}

const inTurn = (cars: readonly CarToPlace[]): CarToPlace[] => cars.toSorted((a, b) => a.dueAt - b.dueAt);

/** Who inspects when the line opens. */
function atOpening(shifts: readonly Shift[]): number {
  return peopleAt(shifts, Math.min(...shifts.map(({ from }) => from)));
}

/** Two cars per inspector at the opening and steps as long as the inspections: the rule that others are measured by. */
export const baileyWelch = (inspectors: number): Spacing => ({ atStart: 2 * inspectors, stretch: 1 });

/**
 * Gives each car a time at the line, first sessions first. Several ways of spacing are tried on the same imagined days; taken
 * is the one with the shortest wait among those on which everybody is done in time on 95 of 100 days, and never one that is
 * worse than the rule of Bailey and Welch in wait or in time. Where no way is safe it is the one that misses fewest.
 * Pure; never throws.
 *
 * @param seed of the imagined days: the same plan for the same question
 * @see Bailey 1952, Welch and Bailey 1952 for the rule; common random numbers, textbook of simulation
 */
export function planLine(
  cars: readonly CarToPlace[],
  shifts: readonly Shift[],
  { habits = USUAL_HABITS, seed = 1 }: { habits?: LineHabits; seed?: number } = {},
): LinePlan {
  const first = atOpening(shifts);
  const ordered = inTurn(cars);
  const question = { cars: ordered, shifts, days: imagine(ordered, habits, seed) };
  const known = baileyWelch(first);
  const rule = outcomeOf(question, known);
  const starts = [...new Set([first, first + 1, Math.ceil(1.5 * first), known.atStart])];
  const others = starts
    .flatMap((atStart) => STRETCHES.map((stretch) => ({ atStart, stretch })))
    .filter(({ atStart, stretch }) => atStart !== known.atStart || stretch !== known.stretch)
    .map((spacing) => outcomeOf(question, spacing));
  const noWorse = [
    rule,
    ...others.filter((plan) => plan.meanWait <= rule.meanWait && plan.allInTime >= rule.allInTime),
  ];
  const safe = noWorse.filter(({ allInTime }) => allInTime >= SAFE_SHARE);
  if (safe.length > 0) return least(safe, ({ meanWait }) => meanWait);
  return least(noWorse, ({ missing, meanWait }) => missing + meanWait * 1e-6);
}

const least = (plans: readonly LinePlan[], cost: (plan: LinePlan) => number): LinePlan =>
  plans.reduce((best, plan) => (cost(plan) < cost(best) ? plan : best));

/**
 * How many more inspectors it takes, whenever the line is open, until everybody can be done in time on 95 of 100 imagined days
 * with times as tight as they are ever given; 0: it is so as it is; `undefined`: more than ten would not do. Pure; never throws.
 *
 * @param shifts that do not overlap
 */
export function inspectorsMissing(
  cars: readonly CarToPlace[],
  shifts: readonly Shift[],
  { habits = USUAL_HABITS, seed = 1 }: { habits?: LineHabits; seed?: number } = {},
): number | undefined {
  const isSafe = safeWith(cars, { habits, seed });
  for (let more = 0; more <= 10; more += 1) {
    if (isSafe(shifts.map((shift) => ({ ...shift, inspectors: shift.inspectors + more })))) return more;
  }
  return undefined;
}

/** How much earlier a line can sensibly open, minutes, and in which steps. */
const EARLIER = { most: 240, step: 15 };

/**
 * How many minutes earlier the line would have to open, with the people that are there first, until everybody can be done in
 * time on 95 of 100 imagined days; 0: as it is; `undefined`: four hours would not do. Pure; never throws.
 *
 * @param shifts that do not overlap
 */
export function opensEarlier(
  cars: readonly CarToPlace[],
  shifts: readonly Shift[],
  { habits = USUAL_HABITS, seed = 1 }: { habits?: LineHabits; seed?: number } = {},
): number | undefined {
  const [first, ...others] = shifts.toSorted((a, b) => a.from - b.from);
  if (first === undefined) return undefined;
  const isSafe = safeWith(cars, { habits, seed });
  for (let by = 0; by <= EARLIER.most; by += EARLIER.step) {
    if (isSafe([{ ...first, from: first.from - by }, ...others])) return by;
  }
  return undefined;
}

/** Whether all can be done in time with some shifts, always on the same imagined days. */
function safeWith(cars: readonly CarToPlace[], { habits, seed }: { habits: LineHabits; seed: number }) {
  const ordered = inTurn(cars);
  const days = imagine(ordered, habits, seed);
  return (shifts: readonly Shift[]): boolean => {
    const spacing = { atStart: 2 * atOpening(shifts), stretch: TIGHTEST };
    return outcomeOf({ cars: ordered, shifts, days }, spacing).allInTime >= SAFE_SHARE;
  };
}
