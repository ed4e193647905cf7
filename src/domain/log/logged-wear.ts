import { dateOf, daysBetween, epochMs, type Instant, plainDateAt, type PlainDate } from '../calendar.ts';
import { POSITION_KEYS } from '../catalogue/item.ts';
import { parseCellKey } from '../declaration/declaration.ts';
import type { LoggedReading } from '../facts/fact.ts';
import { roundTo } from '../quantity.ts';
import type { Timetable } from './timetable.ts';

/** An entry of the log, as far as wear goes. */
export interface LoggedWear {
  at: Instant;
  session?: string | null | undefined;
  /** cells of catalogue items, in their units */
  cells?: Readonly<Record<string, unknown>> | null | undefined;
  /** how many were driven in the session */
  laps?: number | null | undefined;
  /** where new ones were fitted: these are their first values */
  renewed?: LoggedReading['renewed'] | null;
}

interface About {
  /** first day that the car was driven there, and the last of the event */
  from: PlainDate;
  endsOn: PlainDate;
  timeZone: string;
  /** of the groups of the car; empty: not known */
  sessions: Timetable;
}

/** Of a day of which no session is known, so much was driven at a reading: less would make wear slower. Common practice, no source. */
const SHARE_OF_DAY = 0.5;

const PADS: ReadonlySet<string> = new Set<string>([...POSITION_KEYS['wheel-side'], ...POSITION_KEYS.axle]);

/**
 * What was measured between sessions at an event, with the days driven until then, oldest first. How much of the event
 * that is, is told by the laps where each session that is over has some, else by the sessions, else by the day.
 *
 * @returns days are whole event days of driving, so that they count on from event to event
 */
export function loggedReadings(log: readonly LoggedWear[], about: About): LoggedReading[] {
  const inOrder = log.toSorted((a, b) => epochMs(a.at) - epochMs(b.at));
  return inOrder.flatMap((entry): LoggedReading[] => {
    const padThicknessMm = padsIn(entry.cells ?? {});
    const treadMm = treadIn(entry.cells ?? {});
    if (Object.keys(padThicknessMm).length + Object.keys(treadMm).length === 0) return [];
    return [
      {
        on: dayOf(entry.at, about.timeZone),
        ...(typeof entry.session === 'string' && { session: entry.session }),
        driven: drivenUntil(entry.at, inOrder, about),
        padThicknessMm,
        treadMm,
        ...(Array.isArray(entry.renewed) && { renewed: entry.renewed }),
      },
    ];
  });
}

const dayOf = (at: Instant, timeZone: string): PlainDate => plainDateAt(dateOf(at), timeZone);

function drivenUntil(at: Instant, log: readonly LoggedWear[], { from, endsOn, timeZone, sessions }: About): number {
  const days = daysBetween(from, endsOn) + 1;
  const driven = sessions.filter(({ startsAt }) => dayOf(startsAt, timeZone) >= from);
  if (driven.length === 0) {
    const share = daysBetween(from, dayOf(at, timeZone)) + SHARE_OF_DAY;
    return roundTo(Math.min(days, Math.max(0, share)), 2);
  }
  const over = driven.filter(({ endsAt }) => epochMs(endsAt) <= epochMs(at)).length;
  return roundTo(days * (lapShare(at, log, driven.length) ?? over / driven.length), 2);
}

/** The share of the laps that were driven by then; undefined where not each session of the event has some. */
function lapShare(at: Instant, log: readonly LoggedWear[], sessions: number): number | undefined {
  const counted = log.filter(({ laps }) => typeof laps === 'number');
  const all = counted.reduce((sum, { laps }) => sum + (laps ?? 0), 0);
  if (counted.length < sessions || all === 0) return undefined;
  const before = counted
    .filter((entry) => epochMs(entry.at) <= epochMs(at))
    .reduce((sum, { laps }) => sum + (laps ?? 0), 0);
  return before / all;
}

function padsIn(cells: Readonly<Record<string, unknown>>): LoggedReading['padThicknessMm'] {
  return Object.fromEntries(
    Object.entries(cells).flatMap(([cell, value]) => {
      const { key, position } = parseCellKey(cell);
      const isPad = key === 'pad.thickness' && position !== undefined && PADS.has(position);
      return isPad && typeof value === 'number' ? [[position, value]] : [];
    }),
  );
}

/** The lowest of each tyre, however it was given. */
function treadIn(cells: Readonly<Record<string, unknown>>): LoggedReading['treadMm'] {
  const lowest: Record<string, number> = {};
  for (const [cell, value] of Object.entries(cells)) {
    const { key, position = '' } = parseCellKey(cell);
    const [wheel = ''] = position.split('.');
    const isTread = key === 'tyre.tread' || key === 'tyre.tread-lowest';
    if (!isTread || typeof value !== 'number' || !POSITION_KEYS.wheel.some((one) => one === wheel)) continue;
    lowest[wheel] = Math.min(lowest[wheel] ?? value, value);
  }
  return lowest;
}
