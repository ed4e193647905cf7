import {
  addDays,
  comparePlainDates,
  dateOf,
  epochMs,
  type Instant,
  instantAt,
  isInstant,
  type PlainDate,
  plainDateAt,
  sameTimeOn,
} from '../calendar.ts';
import type { OpenCondition } from '../clearance/clearance.ts';
import { movedStart, type Timetable } from './timetable.ts';

/** What an acceptance is asked to be put right or shown for most often. Common practice, no source. */
export const CONDITION_KINDS = ['torque', 'fluid', 'tape', 'pads', 'tyres', 'paper', 'other'] as const;
export type ConditionKind = (typeof CONDITION_KINDS)[number];

/** Times that are known of themselves. */
type KnownDue = 'first-session' | 'session-after' | 'end-of-day';
export type KnownTimes = Partial<Record<KnownDue, Instant>>;

/**
 * By when each kind is done, so that the gate holds the car by itself. What is shown after a run must be done before the
 * run after it; what has to be right before the car goes out is due when it next does. Common practice, no source.
 */
const DUE_OF = {
  torque: 'session-after',
  fluid: 'session-after',
  pads: 'session-after',
  tyres: 'session-after',
  tape: 'first-session',
  paper: 'end-of-day',
  other: 'end-of-day',
} as const satisfies Record<ConditionKind, KnownDue>;

/** From one session of a group to its next where no timetable is known: three groups in turn, 20 minutes each. Common practice, no source. */
const TURN_MS = 60 * 60_000;

interface About {
  sessions: Timetable;
  /** when the group first goes on track; undefined: not known either */
  firstSessionAt: Instant | undefined;
  /** of today at the venue, or of the first day of the event before it begins */
  endOfDay: Instant;
  /** ms since the epoch */
  now: number;
}

/**
 * When the group next goes out, when it goes out after that, and when the day ends. A car that is accepted while a session
 * runs may join it, so that one counts as the next for what is looked at after it, not for what must be right before it.
 * Without a timetable the sessions are taken to be one turn apart, and none of them after the end of the day.
 *
 * @returns what is known of the three
 */
export function knownTimes({ sessions, firstSessionAt, endOfDay, now }: About): KnownTimes {
  if (sessions.length > 0) return { ...fromTable(sessions, now), 'end-of-day': endOfDay };
  if (firstSessionAt === undefined || !isInstant(firstSessionAt)) return { 'end-of-day': endOfDay };
  const first = epochMs(firstSessionAt);
  const next = first > now ? first : first + Math.ceil((now + 1 - first) / TURN_MS) * TURN_MS;
  const atLatest = (at: number) => instantAt(Math.min(at, epochMs(endOfDay)));
  return { 'first-session': atLatest(next), 'session-after': atLatest(next + TURN_MS), 'end-of-day': endOfDay };
}

function fromTable(sessions: Timetable, now: number): Pick<KnownTimes, 'first-session' | 'session-after'> {
  const next = sessions.find(({ startsAt }) => epochMs(startsAt) > now);
  const driven = sessions.findIndex(({ endsAt }) => epochMs(endsAt) > now);
  const after = driven === -1 ? undefined : sessions[driven + 1];
  return {
    ...(next === undefined ? {} : { 'first-session': next.startsAt }),
    ...(after === undefined ? {} : { 'session-after': after.startsAt }),
  };
}

/**
 * The time that a kind of condition gets: its own, or by the end of the day where the group does not go out again. Undefined
 * where no session is known at all: then somebody must say.
 */
export function dueOfKind(kind: ConditionKind, times: KnownTimes, hasTable: boolean): KnownDue | undefined {
  const due = DUE_OF[kind];
  if (times[due] !== undefined) return due;
  return hasTable && times['end-of-day'] !== undefined ? 'end-of-day' : undefined;
}

/** The times of a condition that is still open, as they are from now on; without `dueAt` it has none. */
export interface MovedCondition {
  id: string;
  dueAt?: Instant | undefined;
  /** of a wheel torque: from when on one counts */
  from?: Instant | undefined;
}

/**
 * The open conditions whose times are others under another timetable: what the rules ask for is derived anew, what an
 * inspector made due at the start of a session goes with that session, and a time of his own stays.
 *
 * @param recheck the times of a wheel torque under the timetable of now, for the acceptance that asked for it
 */
export function movedConditions(
  conditions: readonly OpenCondition[],
  tables: { from: Timetable; to: Timetable },
  recheck: RecheckTimes,
): MovedCondition[] {
  return conditions.flatMap((condition): MovedCondition[] => {
    const { id, dueAt } = condition;
    const is = condition.recheck;
    const isTables = is?.byTimetable === true;
    const due = isTables ? recheck.dueAt?.toISOString() : (dueAt && movedStart(dueAt, tables)) || dueAt;
    const from = is === undefined ? undefined : recheck.from.toISOString();
    if (isSame(due, dueAt) && isSame(from, is?.from)) return [];
    return [{ id, ...(due === undefined ? {} : { dueAt: due }), ...(from === undefined ? {} : { from }) }];
  });
}

const isSame = (a: Instant | undefined, b: Instant | undefined): boolean =>
  a === b || (a !== undefined && b !== undefined && epochMs(a) === epochMs(b));

/** A list of conditions with the times that moved. */
export const withMoved = <C extends Omit<OpenCondition, 'id'> & { id: string }>(
  conditions: readonly C[],
  moved: readonly MovedCondition[],
): C[] =>
  conditions.map((condition) => {
    const found = moved.find(({ id }) => id === condition.id);
    if (found === undefined) return condition;
    const { dueAt: _before, ...rest } = condition;
    const { recheck } = condition;
    return {
      ...rest,
      ...(found.dueAt === undefined ? {} : { dueAt: found.dueAt }),
      ...(recheck === undefined ? {} : { recheck: { ...recheck, from: found.from ?? recheck.from } }),
    } as C; // as it was but for its times
  });

interface SessionDays {
  /** when the run group first goes on track */
  firstSessionAt: Date;
  sessions: Timetable;
  timeZone: string;
  endsOn: PlainDate;
}

/** From when on the wheel torque counts, and by when it must be done; undefined: the group does not go out again. */
export interface RecheckTimes {
  from: Date;
  dueAt: Date | undefined;
}

/**
 * From when on a re-check of the wheel fasteners counts, and by when it must be done, for a car that is accepted at `now`:
 * after the first session that it can drive in, before the group goes out again. That is the one that is not over; who
 * is accepted while it runs may join it.
 */
export function torqueRecheckTimes(days: SessionDays, now: Date): RecheckTimes {
  if (days.sessions.length === 0) return byFirstSession(days, now);
  const index = days.sessions.findIndex(({ endsAt }) => epochMs(endsAt) > now.getTime());
  const driven = days.sessions[index];
  // What follows the timetable is not known: later days are taken to begin as the first one did.
  if (driven === undefined) return byFirstSession(days, now, addDays(plainDateAt(now, days.timeZone), 1));
  const next = days.sessions[index + 1];
  const from = dateOf(driven.endsAt);
  if (next !== undefined) return { from, dueAt: dateOf(next.startsAt) };
  return { from, dueAt: firstOnDayAfter(days, plainDateAt(dateOf(driven.startsAt), days.timeZone)) };
}

/**
 * The same for a group of which no more is known than when it first goes on track: its next session is taken to be that time on
 * the next day. On the last day there is none.
 */
function byFirstSession(days: SessionDays, now: Date, notBefore?: PlainDate): RecheckTimes {
  const { firstSessionAt, timeZone } = days;
  const today = notBefore ?? plainDateAt(now, timeZone);
  const firstDay = plainDateAt(firstSessionAt, timeZone);
  const drivenOn = comparePlainDates(today, firstDay) > 0 ? today : firstDay;
  const start = sameTimeOn(firstSessionAt, drivenOn, timeZone);
  return { from: start > now ? start : now, dueAt: firstOnDayAfter(days, drivenOn) };
}

function firstOnDayAfter({ firstSessionAt, timeZone, endsOn }: SessionDays, day: PlainDate): Date | undefined {
  const next = addDays(day, 1);
  return comparePlainDates(next, endsOn) > 0 ? undefined : sameTimeOn(firstSessionAt, next, timeZone);
}
