import { epochMs, type Instant } from '../calendar.ts';
import type { OpenCondition } from '../clearance/clearance.ts';
import type { Timetable } from './timetable.ts';

/** A date that matters to whoever enters a car. */
export interface EntryDate {
  /** stays the same when the date moves, so that a calendar moves it too */
  key: string;
  what:
    | { kind: 'declare-by' }
    | { kind: 'session'; name: string }
    | { kind: 'first-session' }
    | { kind: 'condition'; text: string };
  startsAt: Instant;
  /** exclusive; absent: an instant */
  endsAt?: Instant;
}

export interface EntryPlan {
  closesAt: Instant;
  /** a declaration that counts is there */
  declared: boolean;
  firstSessionAt: Instant;
  sessions: Timetable;
  conditions: readonly OpenCondition[];
}

/**
 * The dates of an entry in order of time: by when to declare, as long as nothing is declared; each session of its group, or
 * the first one where no timetable is known; by when open conditions are to be done.
 */
export function entryDates({ closesAt, declared, firstSessionAt, sessions, conditions }: EntryPlan): EntryDate[] {
  const declare: EntryDate[] = declared
    ? []
    : [{ key: 'declare-by', what: { kind: 'declare-by' }, startsAt: closesAt }];
  const driven: EntryDate[] =
    sessions.length === 0
      ? [{ key: 'first-session', what: { kind: 'first-session' }, startsAt: firstSessionAt }]
      : sessions.map(({ name, startsAt, endsAt }) => ({
          key: `session-${name.trim().toLowerCase()}`,
          what: { kind: 'session', name },
          startsAt,
          endsAt,
        }));
  const due = conditions.flatMap(({ id, text, dueAt }): EntryDate[] =>
    dueAt === undefined ? [] : [{ key: `condition-${id}`, what: { kind: 'condition', text }, startsAt: dueAt }],
  );
  return [...declare, ...driven, ...due].toSorted((a, b) => epochMs(a.startsAt) - epochMs(b.startsAt));
}
