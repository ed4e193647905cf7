import { daysBetween, epochMs, type PlainDate } from '../calendar.ts';
import type { EarlierEvent } from '../facts/fact.ts';
import { wearReadings } from '../facts/wear.ts';
import { lastSafeSession, WEAR_HABITS, wearBand, type WearReading } from '../foresight/wear-band.ts';
import { sessionsPerDay, type Timetable } from '../log/timetable.ts';
import { roundTo } from '../quantity.ts';
import { boundsOf } from '../rules/check/check-parameters.ts';
import type { Finding } from '../rules/model/finding.ts';

export type Axle = 'front' | 'rear';

/** What wears, by the item whose rules say how little may be left. */
const WEARS = {
  'pad.thickness': 'pad',
  'rotor.thickness': 'rotor',
  'tyre.tread-lowest': 'tread',
  'tyre.tread': 'tread',
} as const satisfies Readonly<Record<string, keyof typeof WEAR_HABITS>>;
type Wearing = keyof typeof WEARS;
export type WearKind = (typeof WEARS)[Wearing];
/** What people write down between sessions; nobody measures a rotor there. */
type LoggedKind = Exclude<WearKind, 'rotor'>;

const isWearing = (item: string | undefined): item is Wearing => item !== undefined && Object.hasOwn(WEARS, item);
const axleAt = (position: string): Axle => (position.startsWith('F') || position === 'front' ? 'front' : 'rear');

/** How an axle's worst part will last. */
export interface WearOutlook {
  kind: WearKind;
  axle: Axle;
  /** what is left by the last reading, mm */
  nowMm: number;
  /** less must never be left, mm */
  limitMm: number;
  /** sessions it lasts with a chance of 95 %, at most 60 */
  safeSessions: number;
  /** 90 of 100 cases lie from low to high, mm */
  atEnd: { low: number; middle: number; high: number };
  /** readings of this part on this car that it rests on */
  readings: number;
  /** it lasts the sessions to come */
  lasts: boolean;
}

/** What was read after a session of this event, oldest first: lowest of the axle, mm. */
export interface LoggedParts {
  /** sessions driven at this event by then */
  sessions: number;
  pad?: OfAxles;
  tread?: OfAxles;
}
type OfAxles = Readonly<Partial<Record<Axle, number>>>;

export interface WearInput {
  /** first day of the event */
  startsOn: PlainDate;
  findings: readonly Finding[];
  earlier: readonly EarlierEvent[];
  logged: readonly LoggedParts[];
  sessionsPerDay: number;
  sessionsToCome: number;
}

interface Worst {
  nowMm: number;
  limitMm: number;
}

/** The worst place of each axle: least left over its limit. Only what bars has a limit that must hold. */
function worstOf(findings: readonly Finding[]): Map<string, Worst & { kind: WearKind; axle: Axle }> {
  const worst = new Map<string, Worst & { kind: WearKind; axle: Axle }>();
  for (const { items, position, measured, limit, effect } of findings) {
    const [item] = items;
    const min = boundsOf(limit)?.min;
    if (!isWearing(item) || position === undefined || min === undefined || effect !== 'bar') continue;
    if (min.unit !== 'mm' || typeof measured?.value !== 'number') continue;
    const of = { kind: WEARS[item], axle: axleAt(position), nowMm: measured.value, limitMm: min.value };
    const name = `${of.kind} ${of.axle}`;
    const known = worst.get(name);
    if (known === undefined || of.nowMm - of.limitMm < known.nowMm - known.limitMm) worst.set(name, of);
  }
  return worst;
}

/** The lowest pad or tyre of an axle, as an earlier event or the log knows it, mm. */
function lowestOf(kind: LoggedKind, axle: Axle) {
  return ({ padThicknessMm, treadMm = {} }: Pick<EarlierEvent, 'padThicknessMm' | 'treadMm'>): number | undefined => {
    const read = Object.entries(kind === 'pad' ? padThicknessMm : treadMm);
    const own = read.flatMap(([place, mm]) => (axleAt(place) === axle ? [mm] : []));
    return own.length === 0 ? undefined : Math.min(...own);
  };
}

/** Readings of the pads or tyres that are on now, in sessions: earlier events, what was declared, and what was read here since. */
function readingsOf(kind: LoggedKind, { axle, nowMm }: { axle: Axle; nowMm: number }, input: WearInput): WearReading[] {
  // what was read at this event comes after what was declared for it, as `logged`
  const before = input.earlier.filter(({ endsOn }) => endsOn < input.startsOn);
  const part = { position: axle === 'front' ? 'FL' : 'RL', measured: lowestOf(kind, axle) };
  const all = wearReadings(before, part, { thicknessMm: nowMm, on: input.startsOn });
  const since = all.findLastIndex(({ padsChanged }) => padsChanged === true);
  const own = all.slice(Math.max(0, since));
  const start = own[0]?.sessions ?? 0;
  const declared = own.map(({ sessions, thicknessMm }) => ({
    sessions: (sessions - start) * input.sessionsPerDay,
    mm: thicknessMm,
  }));
  const driven = declared.at(-1)?.sessions ?? 0;
  return input.logged.reduce<WearReading[]>((readings, { sessions, ...logged }) => {
    const read = logged[kind]?.[axle];
    const last = readings.at(-1);
    const at = driven + sessions;
    if (read === undefined || (last !== undefined && at <= last.sessions)) return readings;
    // more than before by more than a reading may be off: other ones are on, whose wear begins here
    const isNew = last !== undefined && read > last.mm + 2 * WEAR_HABITS[kind].reading;
    return isNew ? [{ sessions: at, mm: read }] : [...readings, { sessions: at, mm: read }];
  }, declared);
}

/** The parts of which something can be said, each with its readings. */
const partsOf = (input: WearInput) =>
  [...worstOf(input.findings).values()].map((part) => {
    const readings = part.kind === 'rotor' ? [{ sessions: 0, mm: part.nowMm }] : readingsOf(part.kind, part, input);
    return { ...part, nowMm: readings.at(-1)?.mm ?? part.nowMm, readings, habit: WEAR_HABITS[part.kind] };
  });
type Part = ReturnType<typeof partsOf>[number];

function atEndOf({ kind, readings, habit }: Part, sessionsToCome: number): WearOutlook['atEnd'] {
  const { low, middle, high } = wearBand(readings, sessionsToCome, habit);
  const left = (mm: number): number => roundTo(Math.max(0, mm), kind === 'rotor' ? 2 : 1);
  return { low: left(low), middle: left(middle), high: left(high) };
}

/**
 * How long pads, rotors and tyres of this car last, by axle: from their own readings where there are some, else from what such
 * parts usually do. Pure. What has no limit that bars, or no reading, is left out.
 *
 * @see `wearBand`
 */
export function wearOutlooks(input: WearInput): WearOutlook[] {
  return partsOf(input).map((part) => {
    const { kind, axle, nowMm, limitMm, readings, habit } = part;
    const safeSessions = lastSafeSession(readings, limitMm, habit);
    return {
      kind,
      axle,
      nowMm,
      limitMm,
      safeSessions,
      atEnd: atEndOf(part, input.sessionsToCome),
      readings: readings.length,
      lasts: safeSessions >= input.sessionsToCome,
    };
  });
}

/** The part that ends first, before the event does, with the last session that it lasts. A forecast: it decides nothing. */
export interface LastSafe {
  wear: WearKind;
  axle: Axle;
  /** sessions from now on that it lasts with a chance of 95 %; 0: perhaps not the next */
  sessions: number;
  /** the last of them, where a timetable is known */
  session?: { name: string; startsAt: string };
  /** what is left by the last reading, and what must never be less, mm */
  nowMm: number;
  limitMm: number;
}

export interface LastSafeInput {
  event: { startsOn: PlainDate; endsOn: PlainDate };
  findings: readonly Finding[];
  /** the last may be the event itself, with what was logged there */
  earlier: readonly EarlierEvent[];
  sessions: Timetable;
  now: Date;
}

/** How many sessions are still to come, and how many a day has. */
export function sessionsAhead({ sessions, event, now }: Pick<LastSafeInput, 'sessions' | 'event' | 'now'>) {
  const { startsOn, endsOn } = event;
  const perDay = sessionsPerDay(sessions, startsOn, endsOn);
  const ahead = sessions.filter(({ endsAt }) => epochMs(endsAt) > now.getTime());
  const count = sessions.length === 0 ? (daysBetween(startsOn, endsOn) + 1) * perDay : ahead.length;
  return { perDay, ahead, count };
}

/** What was read here since the declaration, in sessions driven by then. */
function loggedHere({ earlier, event }: LastSafeInput, perDay: number): LoggedParts[] {
  const own = earlier.find(({ endsOn }) => endsOn >= event.startsOn)?.logged ?? [];
  return own.map((entry) => {
    const ofAxles = (kind: LoggedKind): OfAxles => {
      const [front, rear] = [lowestOf(kind, 'front')(entry), lowestOf(kind, 'rear')(entry)];
      return { ...(front !== undefined && { front }), ...(rear !== undefined && { rear }) };
    };
    return { sessions: entry.driven * perDay, pad: ofAxles('pad'), tread: ofAxles('tread') };
  });
}

/**
 * Of what wears on this car the part that ends first, unless all of it lasts the event. From one reading almost nothing is sure
 * to last: such a part is named only where it will more likely than not end before. Pure; never throws.
 */
export function lastSafe(input: LastSafeInput): LastSafe | undefined {
  const { event, findings, earlier } = input;
  const { perDay, ahead, count } = sessionsAhead(input);
  if (count === 0) return undefined;
  const logged = loggedHere(input, perDay);
  const wear = { startsOn: event.startsOn, findings, earlier, logged, sessionsPerDay: perDay, sessionsToCome: count };
  const first = partsOf(wear)
    .map((part) => ({ ...part, safeSessions: lastSafeSession(part.readings, part.limitMm, part.habit, count) }))
    .filter(({ safeSessions }) => safeSessions < count)
    .toSorted((one, other) => one.safeSessions - other.safeSessions)
    .find((part) => part.readings.length > 1 || atEndOf(part, count).middle < part.limitMm);
  if (first === undefined) return undefined;
  const { kind, axle, safeSessions, nowMm, limitMm } = first;
  const last = ahead[safeSessions - 1];
  return {
    wear: kind,
    axle,
    sessions: safeSessions,
    ...(last === undefined ? {} : { session: { name: last.name, startsAt: last.startsAt } }),
    nowMm,
    limitMm,
  };
}
