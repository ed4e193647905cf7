import { fromWallClock } from '../../shared/wall-clock.ts';
import type { ConditionEntry } from './worksheet.ts';

/** What is asked for most often. Common practice, no source. */
export const COMMON = ['torque', 'fluid', 'tape', 'pads', 'tyres', 'paper', 'other'] as const;
export type CommonCondition = (typeof COMMON)[number];

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
} as const satisfies Record<CommonCondition, ConditionEntry['due']>;

/** From one session of a group to its next: three groups in turn, 20 minutes each. Common practice, no source. */
const TURN_MS = 60 * 60_000;

/** Times that are known of themselves, by the name a condition keeps them under. */
export type KnownTimes = Partial<Record<'first-session' | 'session-after' | 'end-of-day', string>>;

interface About {
  firstSessionAt: string | undefined;
  event: { timeZone: string; startsOn: string };
  /** ms since the epoch, by the server's clock */
  now: number;
}

/**
 * When the group next goes out, when it goes out after that, and when the day ends at the venue. Only the first session of
 * a group is planned here; the later ones are one turn apart. None of the day is after its end.
 *
 * @returns instants, RFC 3339 UTC; without a planned session only the end of the day
 */
export function knownTimes({ firstSessionAt, event, now }: About): KnownTimes {
  const { timeZone, startsOn } = event;
  // The Swedish form of a date is that of ISO 8601.
  const today = new Intl.DateTimeFormat('sv-SE', { timeZone }).format(now);
  const endOfDay = fromWallClock(`${today < startsOn ? startsOn : today}T23:59`, timeZone);
  const first = Date.parse(firstSessionAt ?? '');
  if (Number.isNaN(first)) return { 'end-of-day': endOfDay };
  const next = first > now ? first : first + Math.ceil((now + 1 - first) / TURN_MS) * TURN_MS;
  const atLatest = (at: number) => new Date(Math.min(at, Date.parse(endOfDay))).toISOString();
  return { 'first-session': atLatest(next), 'session-after': atLatest(next + TURN_MS), 'end-of-day': endOfDay };
}

/** The time that a kind of condition gets; a time that is not known is asked for. "No time" is a choice of the person. */
export function usualDue(kind: CommonCondition, times: KnownTimes): Pick<ConditionEntry, 'due' | 'at'> {
  return dueFor(DUE_OF[kind], times);
}

/** What is kept of a choice. The instant is that of the choosing: it does not move on while the car is looked at. */
export function dueFor(due: ConditionEntry['due'], times: KnownTimes): Pick<ConditionEntry, 'due' | 'at'> {
  if (due === 'none' || due === 'time') return { due, at: undefined };
  const at = times[due];
  return at === undefined ? { due: 'time', at } : { due, at };
}
