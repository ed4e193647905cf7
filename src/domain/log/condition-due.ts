import { epochMs, type Instant, instantAt, isInstant } from '../calendar.ts';
import type { Timetable } from './timetable.ts';

/** What an acceptance is asked to be put right or shown for most often. Common practice, no source. */
export const CONDITION_KINDS = ['torque', 'fluid', 'tape', 'pads', 'tyres', 'paper', 'other'] as const;
export type ConditionKind = (typeof CONDITION_KINDS)[number];

/** Times that are known of themselves. */
export type KnownDue = 'first-session' | 'session-after' | 'end-of-day';
export type KnownTimes = Partial<Record<KnownDue, Instant>>;

/**
 * By when each kind is done, so that the gate holds the car by itself. What is shown after a run must be done before the
 * run after it; what has to be right before the car goes out is due when it next does. Common practice, no source.
 */
export const DUE_OF = {
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
