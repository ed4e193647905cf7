import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../../deps.ts';
import type { Shift } from '../../../domain/foresight/line-day.ts';
import { dueOf, instantOf, minutesOf, shiftsFrom } from '../../../domain/line/line-hours.ts';
import { learnMinutes, type MinutesPerCar } from '../../../domain/line/minutes-per-car.ts';
import { isExpectedAtLine } from '../../../domain/line/readiness.ts';
import { type CarInLine, fitIn, type ToldTime, WORTH_TELLING } from '../../../domain/line/told-times.ts';
import { roundTo } from '../../../domain/quantity.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { lockEvent } from '../../../records/history/event-history.ts';
import { notifyEntrant } from '../../../records/notify-entrant.ts';
import type { LinePlanView } from './schemas.ts';
import {
  findLineEvent,
  keepTimes,
  type LineCarRow,
  type LineSettings,
  listFollowed,
  listLineCars,
  listMeasured,
  type NewTime,
} from './store.ts';

/** A car that must still be inspected, with what it is expected to take. */
export interface Car extends LineCarRow {
  minutes: number;
  /** minutes since 1970 */
  dueAt: number;
}

interface LineNow {
  shifts: Shift[];
  cars: Car[];
  minutes: LinePlanView['minutes'];
}

/** What cars take at this server's lines. */
export const learnHere = async (db: Tx): Promise<MinutesPerCar> => learnMinutes(await listMeasured(db));

/** The cars that must still come to the line, and the hours that are left of it. */
export async function readLine(
  db: Tx,
  eventId: string,
  { settings, learned, now }: { settings: LineSettings; learned: MinutesPerCar; now: Date },
): Promise<LineNow> {
  const rows = await listLineCars(db, eventId);
  const shifts = shiftsFrom(settings.shifts, now);
  const { minutesPerCar } = settings;
  const cars = rows
    .filter((row) => row.onLine || isExpectedAtLine(row, now))
    .map((row): Car => {
      const minutes = minutesPerCar ?? learned.minutesFor({ points: row.points, group: row.runGroup });
      return { ...row, minutes, dueAt: dueOf(row, shifts, now) };
    });
  const mean = cars.reduce((sum, { minutes }) => sum + minutes, 0) / Math.max(1, cars.length);
  const from = minutesPerCar !== undefined ? 'said' : learned.measured > 0 ? 'learned' : 'usual';
  return { shifts, cars, minutes: { mean: roundTo(mean, 1), from, measured: learned.measured } };
}

export const oldTime = ({ at, lane }: LineCarRow): ToldTime | undefined =>
  at === null ? undefined : { at: minutesOf(at), lane: lane ?? undefined };

/** A car as it is planned for while the line works. */
export const inLine = (car: Car): CarInLine => ({
  id: car.entryId,
  dueAt: car.dueAt,
  minutes: car.minutes,
  told: oldTime(car),
  since: car.claimedAt === null ? undefined : minutesOf(car.claimedAt),
  isMissing: car.notHereAt !== null,
});

/** A time to be written; a message goes with the first one, and with one that is worth telling. */
export function newTime(car: LineCarRow, { at, lane }: ToldTime, { isLive = false } = {}): NewTime {
  const { saidAt, entryId } = car;
  const isNews = saidAt === null || Math.abs(minutesOf(saidAt) - at) >= WORTH_TELLING;
  const isMove = isLive && saidAt !== null;
  const isTold = isNews && !(isMove && car.isMoved === true);
  return {
    entryId,
    at: instantOf(at),
    lane: lane ?? null,
    messageId: isTold ? uuidV7() : null,
    isMoved: isLive && (car.isMoved === true || (isMove && isTold)),
  };
}

/** The kind of message that goes with a told time. */
const LINE_TOLD = 'line.told';

/** Writes times and orders the messages about them. */
export async function tell(
  tx: Tx,
  eventId: string,
  times: readonly NewTime[],
  { now, requestId }: { now: Date; requestId: string },
): Promise<void> {
  if (times.length === 0) return;
  await keepTimes(tx, eventId, times, now);
  for (const { entryId, messageId } of times) {
    if (messageId !== null) await notifyEntrant(tx, { entryId, kind: LINE_TOLD, id: messageId, requestId });
  }
}

/**
 * Follows the lines that were planned, once a minute: who came without a time gets one, who waits too long is told later, who
 * would miss his session is called earlier where others are not there. Safe to run twice, and beside itself.
 */
export async function followLines(deps: Deps, signal?: AbortSignal): Promise<void> {
  const followed = await listFollowed(deps.db.pool, deps.clock.now());
  if (followed.length === 0) return;
  // Once for all, and before any event is locked: it is read from hundreds of decisions.
  const learned = await learnHere(deps.db.prisma);
  for (const eventId of followed) {
    if (signal?.aborted === true) return;
    await followLine(deps, eventId, learned);
  }
}

async function followLine(deps: Deps, eventId: string, learned: MinutesPerCar): Promise<void> {
  await inTransaction(deps.db.prisma, async (tx) => {
    // Two processes that follow one line would tell two times.
    if ((await lockEvent(tx, eventId)) === undefined) return;
    const event = await findLineEvent(tx, eventId);
    if (event === undefined || event.settings === null) return;
    const now = deps.clock.now();
    const { cars, shifts } = await readLine(tx, eventId, { settings: event.settings, learned, now });
    const onLine = cars.filter((car) => car.onLine);
    const { changes } = fitIn(onLine.map(inLine), shifts, Math.ceil(minutesOf(now)));
    const times = changes.flatMap(({ id, told }) => {
      const car = onLine.find(({ entryId }) => entryId === id);
      return car === undefined ? [] : [newTime(car, told, { isLive: true })];
    });
    await tell(tx, eventId, times, { now, requestId: `line-${eventId}` });
  });
}
