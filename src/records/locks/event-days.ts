import type { Actor, Role } from '../../domain/actor.ts';
import { type PlainDate, startOfDay, startOfNextDay } from '../../domain/calendar.ts';
import { type DaysOutcome, deriveValidity, type GivenFor } from '../../domain/clearance/clearance-timeline.ts';
import type { ClearanceFacts, Decided } from '../../domain/clearance/clearance.ts';
import type { AdmissionDays } from '../../domain/clearance/decide-clearance.ts';
import { notAcceptable, ProblemError } from '../../http/frame/problem.ts';
import { type Db, inTransaction, type Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { type LockedEntry, lockEntry, type LockLevel } from './entry-lock.ts';

/** Name of the job that derives acceptances anew; its payload is `{ eventId, seq }`, the row that changed the days. */
export const EVENT_DAYS_CHANGED = 'event.days-changed';

/** What decides the days of an event. */
export interface EventDays {
  startsOn: PlainDate;
  endsOn: PlainDate;
  /** IANA time zone of the venue */
  timeZone: string;
}

/** The days as instants. */
export function admissionDays({ startsOn, endsOn, timeZone }: EventDays): AdmissionDays {
  return { from: startOfDay(startsOn, timeZone), until: startOfNextDay(endsOn, timeZone) };
}

export function sameDays(a: EventDays, b: EventDays): boolean {
  const [one, other] = [admissionDays(a), admissionDays(b)];
  return one.from.getTime() === other.from.getTime() && one.until.getTime() === other.until.getTime();
}

/** A change of the days as it stands in the history of the event, in instants; later derivations read it. */
export function daysMoved(from: EventDays, to: EventDays) {
  const plain = (days: EventDays) => {
    const { from: first, until } = admissionDays(days);
    return { from: first.toISOString(), until: until.toISOString() };
  };
  return { from: plain(from), to: plain(to) };
}

/**
 * Days for which cars are signed off are changed only by a caller who has seen what it does, and says why.
 *
 * @param change `seen`: it came with the tag of what was shown; `path`: where it is shown
 * @throws ProblemError `preview-needed`, `not-acceptable`
 */
export function assertMayMove(change: {
  signedOff: number;
  seen: boolean;
  reason: string | undefined;
  path: string;
}): void {
  const { signedOff, seen, reason, path } = change;
  if (signedOff === 0) return;
  if (!seen) {
    const detail = `${signedOff} cars are signed off for the days as they are. POST the change to ${path} first, then send its \`preview\`.`;
    throw new ProblemError('preview-needed', detail, { preview: path });
  }
  if (reason !== undefined) return;
  const detail = 'Say why: cars are signed off for the days as they are.';
  throw notAcceptable([{ pointer: '/reason', code: 'reason-needed', detail, in: 'body' }]);
}

/** An acceptance that stands, with what it was given for. */
export interface StandingAcceptance {
  entryId: string;
  carNumber: string;
  signOff: Decided;
  given: GivenFor;
}

interface Row {
  entryId: string;
  carNumber: string;
  facts: ClearanceFacts;
  data: { untilEventEnd?: boolean; event: { validFrom: string; validUntil: string } };
  firstEnd: string | null;
}

/**
 * The acceptances that stand at an event, by car number; of one entry when asked for. What they were given for is in the
 * history. Those from before sign-offs said it were for the whole event when they end with it, or with the days it had
 * before these were changed for the first time.
 */
export async function listAcceptances(
  db: Tx,
  event: { eventId: string; days: AdmissionDays },
  entryId?: string,
): Promise<StandingAcceptance[]> {
  const rows = await db.$queryRaw<Row[]>`
    SELECT c.entry_id AS "entryId", c.car_number AS "carNumber", c.facts, h.data,
           (SELECT f.data #>> '{days,from,until}' FROM history f
            WHERE f.event_id = c.event_id AND f.entry_id IS NULL AND f.car_id IS NULL AND f.data ? 'days'
            ORDER BY f.seq LIMIT 1) AS "firstEnd"
    FROM clearances c
    JOIN history h ON h.entry_id = c.entry_id AND h.action = 'entry.signed-off'
      AND h.data #>> '{event,signOffId}' = c.facts #>> '{signOff,signOffId}'
    WHERE c.event_id = ${event.eventId}::uuid AND c.facts #>> '{signOff,decision}' <> 'refuse'
      AND c.facts ->> 'withdrawn' = 'false'
      ${entryId === undefined ? Prisma.empty : Prisma.sql`AND c.entry_id = ${entryId}::uuid`}
    ORDER BY c.car_number, c.entry_id`;
  return rows.flatMap((row) => toAcceptance(row, event.days));
}

function toAcceptance({ entryId, carNumber, facts, data, firstEnd }: Row, days: AdmissionDays): StandingAcceptance[] {
  const { signOff } = facts;
  if (signOff === undefined) return [];
  const from = new Date(data.event.validFrom);
  const until = new Date(data.event.validUntil);
  const end = firstEnd === null ? days.until : new Date(firstEnd);
  const wholeEvent = data.untilEventEnd ?? until.getTime() === end.getTime();
  return [{ entryId, carNumber, signOff, given: { from, until, wholeEvent } }];
}

/** What becomes of an acceptance when the event has these days. */
export const outcomeOf = ({ given }: StandingAcceptance, days: AdmissionDays): DaysOutcome =>
  deriveValidity(given, days);

/** What becomes of an accepted car when the days of its event change. */
interface MovedCar {
  entryId: string;
  carNumber: string;
  outcome: DaysOutcome['outcome'];
  /** until when the acceptance is valid now, RFC 3339 */
  before: string | null;
  /** until when it would be; null where it would not admit */
  validUntil: string | null;
}

/** What a change of the days of an event would do to the cars that are signed off. */
interface MovedCars {
  signedOff: number;
  follows: number;
  keeps: number;
  ends: number;
  lineAgain: number;
  /** by car number */
  cars: MovedCar[];
}

/** Works out what other days would do to the cars of an event. Nothing is written. */
export async function previewDays(
  db: Tx,
  change: { eventId: string; from: EventDays; to: EventDays },
): Promise<MovedCars> {
  const accepted = await listAcceptances(db, { eventId: change.eventId, days: admissionDays(change.from) });
  const wanted = admissionDays(change.to);
  const cars = accepted.map((acceptance): MovedCar => {
    const { entryId, carNumber, signOff } = acceptance;
    const found = outcomeOf(acceptance, wanted);
    const validUntil = 'validUntil' in found ? found.validUntil : null;
    return { entryId, carNumber, outcome: found.outcome, validUntil, before: signOff.validUntil ?? null };
  });
  const count = (outcome: MovedCar['outcome']) => cars.filter((car) => car.outcome === outcome).length;
  return {
    signedOff: cars.length,
    follows: count('follows'),
    keeps: count('keeps'),
    ends: count('ends'),
    lineAgain: count('line-again'),
    cars,
  };
}

/** Orders, with the change of the days, that every acceptance of the event is derived anew. */
export async function orderDerivation(
  tx: Tx,
  change: { eventId: string; seq: number; requestId: string },
): Promise<void> {
  const { requestId, ...payload } = change;
  await appendOutbox(tx, { name: EVENT_DAYS_CHANGED, payload, requestId });
}

/** The row of an event's history that a job follows up: who did it, and what the row says. */
export interface EventCause {
  historyId: string;
  actor: Actor;
  /** as the change wrote it; the caller knows its shape */
  data: unknown;
}

/** The row with this number in the history of the event itself; undefined when there is none. */
export async function findEventCause(db: Tx, at: { eventId: string; seq: number }): Promise<EventCause | undefined> {
  const row = await db.history.findFirst({ where: { ...at, entryId: null, carId: null } });
  if (row === null) return undefined;
  const actor = { tokenId: row.actorId, role: row.actorRole as Role, name: row.actorName };
  return { historyId: row.id, actor, data: row.data };
}

/** Does something with every entry of an event or a run group, each locked in a transaction of its own. */
export async function forEachEntry(
  db: Db,
  of: { eventId: string } | { runGroupId: string },
  level: LockLevel,
  change: (tx: Tx, entry: LockedEntry) => Promise<void>,
): Promise<void> {
  const entries = await db.entry.findMany({ where: of, select: { id: true }, orderBy: { id: 'asc' } });
  for (const { id } of entries) {
    await inTransaction(db, async (tx) => {
      const entry = await lockEntry(tx, id, level);
      if (entry !== undefined) await change(tx, entry);
    });
  }
}
