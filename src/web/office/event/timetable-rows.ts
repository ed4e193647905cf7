import type { Session } from '../../api/operations.ts';
import { fromWallClock, toWallClock } from '../../shared/wall-clock.ts';

/** A session as it is typed: the wall clock at the venue, and how long it takes. */
export interface Row {
  id: number;
  name: string;
  startsAt: string;
  minutes: string;
}

const MINUTE_MS = 60_000;
/** Of the first sessions of a group, until they say otherwise. Common practice, no source. */
const USUAL = { minutes: 20, turnMinutes: 60 };

export const toRows = (sessions: readonly Session[], timeZone: string): Row[] =>
  sessions.map(({ name, startsAt, endsAt }, id) => ({
    id,
    name,
    startsAt: toWallClock(startsAt, timeZone),
    minutes: String((Date.parse(endsAt) - Date.parse(startsAt)) / MINUTE_MS),
  }));

/** As they are sent. What is no number of minutes ends where it starts, which the server refuses at its place. */
export const toSessions = (rows: readonly Row[], timeZone: string): Session[] =>
  rows.map(({ name, startsAt, minutes }) => {
    const start = fromWallClock(startsAt, timeZone);
    const length = Number(minutes.replace(',', '.')) * MINUTE_MS;
    const end = Date.parse(start) + (Number.isFinite(length) ? length : 0);
    return { name: name.trim(), startsAt: start, endsAt: Number.isNaN(end) ? start : new Date(end).toISOString() };
  });

/** One more, as far after the last one as that is after the one before it. */
export function withNext(rows: readonly Row[], firstSessionAt: string, timeZone: string): Row[] {
  const [before, last] = rows.slice(-2);
  const id = Math.max(-1, ...rows.map((row) => row.id)) + 1;
  const name = String(rows.length + 1);
  const minutes = last?.minutes ?? before?.minutes ?? String(USUAL.minutes);
  const newest = last ?? before;
  if (newest === undefined) return [{ id, name, startsAt: toWallClock(firstSessionAt, timeZone), minutes }];
  const [from, to] = toSessions(rows.slice(-2), timeZone).map(({ startsAt }) => Date.parse(startsAt));
  const turn = from === undefined || to === undefined || !(to > from) ? USUAL.turnMinutes * MINUTE_MS : to - from;
  const at = Date.parse(fromWallClock(newest.startsAt, timeZone));
  const startsAt = Number.isNaN(at) ? newest.startsAt : toWallClock(new Date(at + turn).toISOString(), timeZone);
  return [...rows, { id, name, startsAt, minutes }];
}

/** What has not begun yet, later by some minutes: the day runs late. */
export const laterBy = (
  rows: readonly Row[],
  minutes: number,
  { now, timeZone }: { now: number; timeZone: string },
): Row[] =>
  rows.map((row) => {
    const at = Date.parse(fromWallClock(row.startsAt, timeZone));
    if (!(at > now) || !Number.isFinite(minutes)) return row;
    return { ...row, startsAt: toWallClock(new Date(at + minutes * MINUTE_MS).toISOString(), timeZone) };
  });
