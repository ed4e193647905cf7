/** People who inspect side by side for a while; minutes from any beginning, the same for all. */
export interface Shift {
  from: number;
  to: number;
  inspectors: number;
}

/** A stretch of time with always the same number of people, who may be none; in their order and without gaps. */
interface Stretch {
  from: number;
  to: number;
  people: number;
}

/** Shifts, which may overlap, as stretches between their edges. */
export function stretchesOf(shifts: readonly Shift[]): Stretch[] {
  const edges = [...new Set(shifts.flatMap(({ from, to }) => [from, to]))].toSorted((a, b) => a - b);
  return edges.slice(1).map((to, at) => {
    const from = edges[at] ?? to;
    return { from, to, people: peopleAt(shifts, from) };
  });
}

/** How many inspect at a moment. */
export const peopleAt = (shifts: readonly Shift[], at: number): number =>
  shifts.reduce((sum, { from, to, inspectors }) => sum + (from <= at && at < to ? inspectors : 0), 0);

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
  /** whether it is one of them, per car */
  isMissed: readonly boolean[];
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
  const isMissed = cars.map(({ comesAt }) => comesAt !== undefined);
  const present: Coming[] = [];
  let [endsAt, next] = [0, 0];
  for (let done = 0; done < coming.length; done += 1) {
    const from = present.length > 0 ? -Infinity : (coming[next]?.comesAt ?? Infinity);
    const person = freeFirst(people, from);
    if (person === undefined) break;
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
    isMissed[taken.at] = person.freeAt > taken.car.dueAt;
  }
  return { waits, missed: isMissed.filter(Boolean).length, isMissed, endsAt };
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
