import { peopleAt, type Shift, stretchesOf } from '../foresight/line-day.ts';

/** When and where a car is told to come; minutes from any beginning, the same for all. */
export interface ToldTime {
  at: number;
  /** from 1; absent: only one is open then */
  lane?: number | undefined;
}

/** A car that still has to be inspected. */
export interface CarInLine {
  id: string;
  /** must be done by then */
  dueAt: number;
  /** what it is expected to take */
  minutes: number;
  told?: ToldTime | undefined;
  /** since when somebody inspects it */
  since?: number | undefined;
  /** it was called and was not there */
  isMissing?: boolean | undefined;
}

/** A told time is changed, and somebody written to, only for so many minutes or more. */
export const WORTH_TELLING = 10;
/** Whoever is due sooner is on the way: no time nearer than this is given or changed, minutes. From memory. */
export const NOTICE = 15;
/** So long a car may wait at the line as it was planned: who is absent, or done quickly, leaves nobody idle. From memory. */
const QUEUE = 10;
/** What is left before a session for a car that is squeezed in, minutes. From memory. */
const SQUEEZED = 5;

interface Span {
  from: number;
  to: number;
}
/** One lane: when it is open, and for whom it is taken. */
interface Lane {
  lane: number;
  open: Span[];
  taken: (Span & { id: string })[];
}

/** Lanes in which somebody inspects: as many as people, the first ones longest. */
function openLanes(shifts: readonly Shift[]): Lane[] {
  const lanes: Lane[] = [];
  for (const { from, to, people } of stretchesOf(shifts)) {
    for (let lane = 1; lane <= people; lane += 1) {
      const known = lanes[lane - 1] ?? { lane, open: [], taken: [] };
      lanes[lane - 1] = known;
      const last = known.open.at(-1);
      if (last?.to === from) last.to = to;
      else known.open.push({ from, to });
    }
  }
  return lanes;
}

/** The first minute from `from` on at which so many are free in a lane; nobody begins a car after the lane has closed. */
function freeIn({ open, taken }: Lane, from: number, minutes: number): number | undefined {
  for (const span of open) {
    let at = Math.max(from, span.from);
    for (const busy of taken) if (busy.from < at + minutes && busy.to > at) at = busy.to;
    if (at < span.to) return at;
  }
  return undefined;
}

interface Slot {
  lane: Lane;
  at: number;
}

/** Where so many minutes are free first; of several lanes the one that was told. */
function firstFree(lanes: readonly Lane[], from: number, car: Pick<CarInLine, 'minutes' | 'told'>): Slot | undefined {
  const free = lanes.flatMap((lane): Slot[] => {
    const at = freeIn(lane, from, car.minutes);
    return at === undefined ? [] : [{ lane, at }];
  });
  const first = Math.min(...free.map(({ at }) => at));
  const soonest = free.filter(({ at }) => at === first);
  return soonest.find(({ lane }) => lane.lane === car.told?.lane) ?? soonest[0];
}

function take({ lane, at }: Slot, { id, minutes }: Pick<CarInLine, 'id' | 'minutes'>): void {
  lane.taken.push({ id, from: at, to: at + minutes });
  lane.taken.sort((a, b) => a.from - b.from);
}

const toldOf = (shifts: readonly Shift[], at: number, lane: number): ToldTime =>
  peopleAt(shifts, at) > 1 ? { at, lane } : { at };

/**
 * A lane for each planned time: the one that is free first when the car comes. Pure; never throws.
 *
 * @param times in the order of their turns
 * @param minutes what each car is expected to take
 */
export function giveLanes(
  times: readonly { id: string; at: number }[],
  minutes: ReadonlyMap<string, number>,
  shifts: readonly Shift[],
): { id: string; told: ToldTime }[] {
  const lanes = openLanes(shifts);
  return times.map(({ id, at }) => {
    const car = { id, minutes: minutes.get(id) ?? 0 };
    const slot = firstFree(lanes, at, car);
    if (slot === undefined) return { id, told: { at } };
    take(slot, car);
    return { id, told: toldOf(shifts, at, slot.lane.lane) };
  });
}

/** What becomes of told times as the day goes. */
interface Fitted {
  /** times that are new or another than before; all others stay as they were told */
  changes: readonly { id: string; told: ToldTime }[];
  /** cars that are not done when they must be, as it looks now */
  late: readonly string[];
}

/** The morning while it is gone through. */
interface Board {
  shifts: readonly Shift[];
  now: number;
  lanes: Lane[];
  changes: Map<string, ToldTime>;
  late: Set<string>;
}

const isWithin = ({ at }: Slot, { minutes, dueAt }: CarInLine): boolean => at + minutes <= dueAt;

/** Cars with a time keep it, and wait where the line is behind; only more than the usual wait, and worth telling, moves it. */
function keepTold(board: Board, cars: readonly CarInLine[]): CarInLine[] {
  const { now, lanes, shifts, changes } = board;
  return cars.filter((car) => {
    const told = car.told?.at ?? now;
    const slot = firstFree(lanes, Math.max(told, now), car);
    if (slot === undefined) return true;
    take(slot, car);
    const at = Math.floor(slot.at) - QUEUE;
    if (at - told >= WORTH_TELLING && told >= now + NOTICE) changes.set(car.id, toldOf(shifts, at, slot.lane.lane));
    return !isWithin(slot, car);
  });
}

/** A car that would miss its session is called earlier, where somebody else's absence left room. */
function rescue(board: Board, car: CarInLine): boolean {
  const { now, lanes, shifts, changes } = board;
  const told = car.told?.at ?? now;
  if (told < now + NOTICE) return false;
  for (const lane of lanes) lane.taken = lane.taken.filter(({ id }) => id !== car.id);
  const slot = firstFree(lanes, now + NOTICE, car);
  const at = Math.floor(slot?.at ?? told);
  if (slot !== undefined && isWithin(slot, car) && told - at >= WORTH_TELLING) {
    take(slot, car);
    changes.set(car.id, toldOf(shifts, at, slot.lane.lane));
    return true;
  }
  const kept = firstFree(lanes, Math.max(told, now), car);
  if (kept !== undefined) take(kept, car);
  return false;
}

/** Who has no time takes the first gap before his session, else a turn so late that it is just in time. */
function fitNew(board: Board, cars: readonly CarInLine[]): void {
  const { now, lanes, shifts, changes, late } = board;
  let squeezed = 0;
  for (const car of cars) {
    const slot = firstFree(lanes, now + NOTICE, car);
    if (slot === undefined) {
      late.add(car.id);
      continue;
    }
    if (!isWithin(slot, car)) {
      const side = Math.max(1, peopleAt(shifts, car.dueAt - SQUEEZED));
      const at = Math.floor(car.dueAt - SQUEEZED - (squeezed + car.minutes) / side);
      if (at >= now + NOTICE && peopleAt(shifts, at) > 0) {
        squeezed += car.minutes;
        changes.set(car.id, toldOf(shifts, at, slot.lane.lane));
        continue;
      }
      late.add(car.id);
    }
    take(slot, car);
    changes.set(car.id, toldOf(shifts, Math.ceil(slot.at), slot.lane.lane));
  }
}

/**
 * Plans anew while the line works: whoever has a time keeps it, unless it moves by what is worth telling and he is not on his
 * way yet; a car that is called and not there holds nobody up; one that would miss its session is called earlier where there
 * is room; who comes without a time fits in. Pure; never throws.
 *
 * @param cars that are not done, in any order
 * @param shifts that do not overlap
 */
export function fitIn(cars: readonly CarInLine[], shifts: readonly Shift[], now: number): Fitted {
  const board: Board = { shifts, now, lanes: openLanes(shifts), changes: new Map(), late: new Set() };
  const busy = cars.filter(({ since }) => since !== undefined);
  for (const car of busy) {
    const from = car.since ?? now;
    const lane = board.lanes.find((one) => one.lane === car.told?.lane && freeIn(one, now, 1) === now);
    const slot = lane ?? firstFree(board.lanes, now, { ...car, minutes: 1 })?.lane;
    if (slot !== undefined) take({ lane: slot, at: from }, { ...car, minutes: Math.max(car.minutes, now + 1 - from) });
  }
  const there = cars.filter(({ since, isMissing }) => since === undefined && isMissing !== true);
  const byTurn = there.filter(({ told }) => told !== undefined).toSorted((a, b) => turnOf(a) - turnOf(b));
  const missing = keepTold(board, byTurn).toSorted((a, b) => a.dueAt - b.dueAt);
  for (const car of missing) if (!rescue(board, car)) board.late.add(car.id);
  fitNew(
    board,
    there.filter(({ told }) => told === undefined).toSorted((a, b) => a.dueAt - b.dueAt),
  );
  return { changes: [...board.changes].map(([id, told]) => ({ id, told })), late: [...board.late] };
}

const turnOf = ({ told, dueAt }: CarInLine): number => told?.at ?? dueAt;
