import { dateOf, daysBetween, epochMs, type Instant, instantAt, type PlainDate, plainDateAt } from '../calendar.ts';
import type { OpenCondition } from '../clearance/clearance.ts';

/** When a run group is on track. Instants are RFC 3339 in UTC; the end is exclusive. */
export interface Session {
  /** unique in the group: what is written down after a session names it */
  name: string;
  startsAt: Instant;
  endsAt: Instant;
}

/** In order of time. Empty: no more is known than when the group first goes on track. */
export type Timetable = readonly Session[];

/** Sessions of a day where no timetable says it. Common practice, no source. */
const USUAL_PER_DAY = 4;

/** How many sessions of a run group a day of its event has, on average; as many as are usual where no timetable is known. */
export const sessionsPerDay = (sessions: Timetable, startsOn: PlainDate, endsOn: PlainDate): number =>
  sessions.length === 0 ? USUAL_PER_DAY : sessions.length / (daysBetween(startsOn, endsOn) + 1);

/** What is wrong with a timetable; `pointer` is a JSON Pointer into the list as it was given. */
interface TimetableFault {
  pointer: string;
  code: 'outside-event' | 'ends-first' | 'overlaps' | 'name-twice';
  detail: string;
}

/** The days of the event, at the venue. */
interface Days {
  startsOn: PlainDate;
  endsOn: PlainDate;
  timeZone: string;
}

export const inOrder = (sessions: Timetable): Session[] =>
  sessions.toSorted((a, b) => epochMs(a.startsAt) - epochMs(b.startsAt));

/** Everything that keeps a list of sessions from being a timetable: a car is in one session at a time, on a day of the event. */
export function timetableFaults(sessions: Timetable, days: Days): TimetableFault[] {
  const names = new Map<string, number>();
  return sessions.flatMap((session, index) => {
    const at = (field: string) => `/sessions/${index}/${field}`;
    const twin = names.get(foldName(session.name));
    names.set(foldName(session.name), twin ?? index);
    const faults: TimetableFault[] = [];
    if (twin !== undefined) {
      const detail = `Session ${twin + 1} has this name; call them "Sat 1" and "Sun 1", say.`;
      faults.push({ pointer: at('name'), code: 'name-twice', detail });
    }
    if (!isWithin(session.startsAt, days)) faults.push(outside(at('startsAt'), days));
    if (epochMs(session.endsAt) <= epochMs(session.startsAt)) {
      faults.push({ pointer: at('endsAt'), code: 'ends-first', detail: 'Must lie after its start.' });
    } else if (!isWithin(instantAt(epochMs(session.endsAt) - 1), days)) {
      faults.push(outside(at('endsAt'), days));
    }
    const other = sessions.find((one, before) => before < index && overlap(one, session));
    if (other === undefined) return faults;
    const detail = `Overlaps "${other.name}" of the same group.`;
    return [...faults, { pointer: at('startsAt'), code: 'overlaps' as const, detail }];
  });
}

const foldName = (name: string): string => name.trim().toLowerCase();

const overlap = (a: Session, b: Session): boolean =>
  epochMs(a.startsAt) < epochMs(b.endsAt) && epochMs(b.startsAt) < epochMs(a.endsAt);

function isWithin(instant: Instant, { startsOn, endsOn, timeZone }: Days): boolean {
  const day = plainDateAt(dateOf(instant), timeZone);
  return startsOn <= day && day <= endsOn;
}

function outside(pointer: string, { startsOn, endsOn, timeZone }: Days): TimetableFault {
  const detail = `Must fall on a day of the event (${startsOn} to ${endsOn}, ${timeZone}).`;
  return { pointer, code: 'outside-event', detail };
}

/**
 * The timetable with its first session at another time, as long as it was; undefined where that would no longer be the
 * first one, or run into the next.
 */
export function withFirstAt(sessions: Timetable, firstSessionAt: Date): Session[] | undefined {
  const [first, ...others] = sessions;
  if (first === undefined) return [];
  const by = firstSessionAt.getTime() - epochMs(first.startsAt);
  const moved = {
    ...first,
    startsAt: firstSessionAt.toISOString(),
    endsAt: instantAt(epochMs(first.endsAt) + by),
  };
  const [next] = others;
  return next !== undefined && epochMs(next.startsAt) < epochMs(moved.endsAt) ? undefined : [moved, ...others];
}

/**
 * Where an instant lies that was taken from a timetable, in the timetable that replaced it: the start of a session
 * moves with the session of that name, or to the next one when it is gone.
 *
 * @returns undefined when the instant was no start of a session, or nothing follows
 */
export function movedStart(instant: Instant, { from, to }: { from: Timetable; to: Timetable }): Instant | undefined {
  const was = from.find(({ startsAt }) => epochMs(startsAt) === epochMs(instant));
  if (was === undefined) return undefined;
  const same = to.find(({ name }) => foldName(name) === foldName(was.name));
  return (same ?? to.find(({ startsAt }) => epochMs(startsAt) >= epochMs(instant)))?.startsAt;
}

/** A date that matters to whoever enters a car. */
export interface EntryDate {
  /** stays the same when the date moves, so that a calendar moves it too */
  key: string;
  what:
    | { kind: 'declare-by' }
    | { kind: 'line'; lane?: number | undefined }
    | { kind: 'session'; name: string }
    | { kind: 'first-session' }
    | { kind: 'condition'; text: string };
  startsAt: Instant;
  /** exclusive; absent: an instant */
  endsAt?: Instant;
}

interface EntryPlan {
  closesAt: Instant;
  /** a declaration that counts is there */
  declared: boolean;
  firstSessionAt: Instant;
  sessions: Timetable;
  conditions: readonly OpenCondition[];
  /** when the car is told to be at the line */
  told?: { at: Instant; lane?: number } | undefined;
}

/**
 * The dates of an entry in order of time: by when to declare, as long as nothing is declared; the told time at the line; each session of its group, or
 * the first one where no timetable is known; by when open conditions are to be done.
 */
export function entryDates(plan: EntryPlan): EntryDate[] {
  const { closesAt, declared, firstSessionAt, sessions, conditions, told } = plan;
  const declare: EntryDate[] = declared
    ? []
    : [{ key: 'declare-by', what: { kind: 'declare-by' }, startsAt: closesAt }];
  const line: EntryDate[] =
    told === undefined ? [] : [{ key: 'line', what: { kind: 'line', lane: told.lane }, startsAt: told.at }];
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
  return [...declare, ...line, ...driven, ...due].toSorted((a, b) => epochMs(a.startsAt) - epochMs(b.startsAt));
}
