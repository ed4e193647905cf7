import { openRandom, seedOf } from './random.ts';

/** A car that needs a time at the line; minutes from any beginning, the same for all. */
interface CarToPlace {
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
interface LinePlan {
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
}

interface Spacing {
  atStart: number;
  stretch: number;
}

/** Imagined days per plan: the share of days is known to 0.02 at 0.95 (binomial). */
const DAYS = 120;
/** Share of days on which all must be in time before a plan is called safe. */
export const SAFE_SHARE = 0.95;
const STRETCHES = [0.9, 0.95, 1, 1.05, 1.1, 1.18];
/** On-time cars come up to this much before their time, minutes. Common practice, no source. */
const EARLIEST = 10;

/** Inspector-minutes turned into the clock: the inverse of the capacity that has been on the line so far. */
function clockOf(shifts: readonly Shift[]): (work: number) => number {
  const edges = [...new Set(shifts.flatMap(({ from, to }) => [from, to]))].toSorted((a, b) => a - b);
  const parts = edges.slice(1).map((to, at) => {
    const from = edges[at] ?? to;
    const people = shifts.reduce(
      (sum, shift) => sum + (shift.from <= from && shift.to >= to ? shift.inspectors : 0),
      0,
    );
    return { from, to, people };
  });
  return (work) => {
    let left = work;
    for (const { from, to, people } of parts) {
      const holds = people * (to - from);
      if (left < holds) return from + left / people;
      left -= holds;
    }
    return edges.at(-1) ?? 0;
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

/** What chance does with each car on each imagined day; the same for every plan that is compared. */
function imagine(cars: readonly CarToPlace[], habits: LineHabits, seed: number) {
  const shape = 1 / habits.serviceSpread ** 2;
  return Array.from({ length: DAYS }, (_, day) => {
    const random = openRandom(seedOf(seed, day));
    return new Map(
      cars.map(({ id, meanMinutes }) => {
        const minutes = (meanMinutes * random.gamma(shape)) / shape;
        const isAbsent = random.uniform() < habits.absent;
        const isLate = random.uniform() < habits.late.share;
        const by = random.uniform();
        const lateBy = isLate ? -Math.log(1 - by) * habits.late.meanMinutes : -by * EARLIEST;
        return [id, { minutes, isAbsent, lateBy }] as const;
      }),
    );
  });
}

type Imagined = ReturnType<typeof imagine>;

function outcomeOf(cars: readonly CarToPlace[], shifts: readonly Shift[], days: Imagined, spacing: Spacing): LinePlan {
  const times = spaceOut(cars, shifts, spacing);
  const dueOf = new Map(cars.map(({ id, dueAt }) => [id, dueAt]));
  const results = days.map((day): Day => {
    const coming = times.map(({ id, at }): ComingCar => {
      const { minutes, isAbsent, lateBy } = day.get(id) ?? { minutes: 0, isAbsent: true, lateBy: 0 };
      return { comesAt: isAbsent ? undefined : at + lateBy, minutes, turn: at, dueAt: dueOf.get(id) ?? Infinity };
    });
    return runDay(coming, shifts);
  });
  const waits = results.flatMap(({ waits }) => waits.filter((wait) => wait !== undefined));
  return {
    times,
    spacing,
    meanWait: waits.reduce((sum, wait) => sum + wait, 0) / Math.max(1, waits.length),
    allInTime: results.filter(({ missed }) => missed === 0).length / results.length,
    missing: results.reduce((sum, { missed }) => sum + missed, 0) / results.length,
  };
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
  const begins = Math.min(...shifts.map(({ from }) => from));
  const first = shifts.reduce((sum, { from, inspectors }) => sum + (from === begins ? inspectors : 0), 0);
  const days = imagine(cars, habits, seed);
  const known = baileyWelch(first);
  const rule = outcomeOf(cars, shifts, days, known);
  const starts = [...new Set([first, first + 1, Math.ceil(1.5 * first), known.atStart])];
  const others = starts
    .flatMap((atStart) => STRETCHES.map((stretch) => ({ atStart, stretch })))
    .filter(({ atStart, stretch }) => atStart !== known.atStart || stretch !== known.stretch)
    .map((spacing) => outcomeOf(cars, shifts, days, spacing));
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
 * How many more inspectors it takes, from the opening on, until a plan is safe; 0: it is; `undefined`: more than ten would not
 * do. Pure; never throws.
 */
export function inspectorsMissing(
  cars: readonly CarToPlace[],
  shifts: readonly Shift[],
  options: { habits?: LineHabits; seed?: number } = {},
): number | undefined {
  const from = Math.min(...shifts.map((shift) => shift.from));
  const to = Math.max(...shifts.map((shift) => shift.to));
  for (let more = 0; more <= 10; more += 1) {
    const staffed = more === 0 ? shifts : [...shifts, { from, to, inspectors: more }];
    if (planLine(cars, staffed, options).allInTime >= SAFE_SHARE) return more;
  }
  return undefined;
}

/** People who inspect side by side for a while; minutes from any beginning, the same for all. */
interface Shift {
  from: number;
  to: number;
  inspectors: number;
}

/** A car on one imagined day. */
export interface ComingCar {
  /** when it comes, minutes; `undefined`: never */
  comesAt: number | undefined;
  /** what it takes at the line, minutes */
  minutes: number;
  /** of those who are there the lowest goes next */
  turn: number;
  /** must be done by then, minutes */
  dueAt: number;
}

/** What became of one imagined day. */
export interface Day {
  /** minutes from coming to the start of its inspection, per car; `undefined`: never came, or was never reached */
  waits: readonly (number | undefined)[];
  /** cars that came and were not done when they had to be */
  missed: number;
  /** when the last was done, minutes */
  endsAt: number;
}

/** When each inspector is free, and until when he works. */
const peopleOf = (shifts: readonly Shift[]) =>
  shifts.flatMap(({ from, to, inspectors }) => Array.from({ length: inspectors }, () => ({ freeAt: from, to })));

/** A car that comes, with its place in the question. */
interface Coming {
  at: number;
  comesAt: number;
  car: ComingCar;
}

const inOrder = (cars: readonly ComingCar[]): Coming[] =>
  cars
    .flatMap((car, at) => (car.comesAt === undefined ? [] : [{ at, comesAt: car.comesAt, car }]))
    .toSorted((a, b) => a.comesAt - b.comesAt);

/** Of the cars that are there the one whose turn it is, taken out. */
function takeNext(present: Coming[]): Coming | undefined {
  let best = 0;
  for (const [at, { car }] of present.entries()) if (car.turn < (present[best]?.car.turn ?? Infinity)) best = at;
  return present.splice(best, 1)[0];
}

/**
 * Runs one day: whoever inspects takes, when he is free, the car whose turn it is among those that are there. Nobody begins a
 * car after his shift. Pure; never throws.
 *
 * @see event-driven simulation of a queue, textbook
 */
export function runDay(cars: readonly ComingCar[], shifts: readonly Shift[]): Day {
  const people = peopleOf(shifts);
  const waits: (number | undefined)[] = cars.map(() => undefined);
  const coming = inOrder(cars);
  const present: Coming[] = [];
  let [missed, endsAt, next] = [0, 0, 0];
  for (let done = 0; done < coming.length; done += 1) {
    const from = present.length > 0 ? -Infinity : (coming[next]?.comesAt ?? Infinity);
    const person = freeFirst(people, from);
    if (person === undefined) return { waits, missed: missed + coming.length - done, endsAt };
    const now = Math.max(person.freeAt, from);
    for (let one = coming[next]; one !== undefined && one.comesAt <= now; one = coming[next]) {
      present.push(one);
      next += 1;
    }
    const taken = takeNext(present);
    if (taken === undefined) break;
    waits[taken.at] = now - taken.comesAt;
    person.freeAt = now + taken.car.minutes;
    endsAt = Math.max(endsAt, person.freeAt);
    if (person.freeAt > taken.car.dueAt) missed += 1;
  }
  return { waits, missed, endsAt };
}

/** Who can begin first, at `from` or later, while still at work. */
function freeFirst<P extends { freeAt: number; to: number }>(people: readonly P[], from: number): P | undefined {
  let best: P | undefined;
  for (const person of people) {
    if (Math.max(person.freeAt, from) >= person.to) continue;
    if (best === undefined || person.freeAt < best.freeAt) best = person;
  }
  return best;
}
