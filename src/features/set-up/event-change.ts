import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/etag.ts';
import { notFound } from '../../http/frame/problem.ts';
import { canonicalHash, canonicalJson } from '../../platform/canonical-json.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import {
  admissionDays,
  assertMayMove,
  daysMoved,
  type EventDays,
  listAcceptances,
  orderDerivation,
  previewDays,
  sameDays,
} from '../../records/locks/event-days.ts';
import { lockEvent, recordEventChange } from '../../records/history/event-history.ts';
import { entrantTokenEnd, moveEntrantTokenEnds } from '../../records/notify-entrant.ts';
import { applyChanges, toInput } from './event-apply-changes.ts';
import { assertEventMakesSense } from './event-check.ts';
import type { EventChanges, EventInput, EventPreview, EventView } from './event-schemas.ts';
import { findEvent, insertEvent, shareVenue, type StoredEvent, updateEvent } from './event-store.ts';

interface ChangeRequest {
  eventId: string;
  ifMatch: string | undefined;
  changes: EventChanges;
  requestId: string;
}

/**
 * Changes the fields that are given, starting from the version the caller read, and writes it into the history of the
 * event. Other days are taken, once cars are signed off, only from a caller who has seen what they do and says why;
 * every acceptance is then derived anew.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`, `preview-needed`
 */
export async function changeEvent(deps: Deps, actor: Actor, request: ChangeRequest): Promise<StoredEvent> {
  const { eventId, ifMatch, changes, requestId } = request;
  const { reason, preview: _preview, ...fields } = changes;
  return inTransaction(deps.db.prisma, async (tx) => {
    if (changes.venueId !== undefined) await shareVenue(tx, changes.venueId);
    const locked = await lockEvent(tx, eventId);
    const current = locked && (await findEvent(tx, eventId));
    if (locked === undefined || current === undefined) throw notFound('event');
    assertIfMatch(ifMatch, etagOf(current.rev));
    if (Object.keys(fields).length === 0) return current;
    const { wanted, days } = await applyChanges(tx, current, changes);
    const moved = !sameDays(current, days);
    if (moved) await assertSeen(tx, current, days, changes);
    const updated = await updateEvent(tx, eventId, current.rev, wanted);
    if (updated === undefined) throw stale(etagOf(current.rev));
    await moveEntrantTokenEnds(tx, eventId, { from: entrantTokenEnd(current), to: entrantTokenEnd(updated) });
    const data = {
      ...changedFields(current, updated),
      ...(moved ? { days: daysMoved(current, updated) } : {}),
      ...(reason === undefined ? {} : { reason }),
    };
    const at = await decisionTime(tx, deps.clock);
    await recordEventChange(tx, locked, { actor, at, action: 'event.changed', data, requestId });
    if (moved) await orderDerivation(tx, { eventId, seq: locked.historySeq, requestId });
    return updated;
  });
}

async function assertSeen(tx: Tx, current: StoredEvent, days: EventDays, changes: EventChanges): Promise<void> {
  const { eventId } = current;
  const { length: signedOff } = await listAcceptances(tx, { eventId, days: admissionDays(current) });
  const seen = changes.preview === daysTag(eventId, current, days);
  assertMayMove({ signedOff, seen, reason: changes.reason, path: `/v1/events/${eventId}/preview` });
}

/** The fields that are another than before, as they were and as they are; the zone where the venue brought another. */
function changedFields(before: StoredEvent, after: StoredEvent): { from: object; to: object } {
  const was = { ...toInput(before), timeZone: before.timeZone };
  const is = { ...toInput(after), timeZone: after.timeZone };
  const keys = (Object.keys(is) as (keyof typeof is)[]).filter(
    (key) => canonicalJson(was[key]) !== canonicalJson(is[key]),
  );
  const pick = (one: typeof is) => Object.fromEntries(keys.map((key) => [key, one[key]]));
  return { from: pick(was), to: pick(is) };
}

/** @throws ProblemError `not-acceptable` */
export async function createEvent(deps: Deps, input: EventInput): Promise<StoredEvent> {
  await assertEventMakesSense(deps.db.prisma, input);
  return insertEvent(deps.db.prisma, input);
}

/** The event as callers see it at an instant: the declaration window is open from its start until before its end. */
export function toEventView({ rev: _rev, cancelled, ...event }: StoredEvent, now: Date): EventView {
  return {
    ...event,
    declarationsOpenAt: event.declarationsOpenAt.toISOString(),
    declarationsCloseAt: event.declarationsCloseAt.toISOString(),
    declarations:
      cancelled === undefined ? windowState(event.declarationsOpenAt, event.declarationsCloseAt, now) : 'closed',
    ...(cancelled === undefined ? {} : { cancelled: { ...cancelled, at: cancelled.at.toISOString() } }),
    createdAt: event.createdAt.toISOString(),
  };
}

function windowState(opensAt: Date, closesAt: Date, now: Date): EventView['declarations'] {
  if (now < opensAt) return 'not-open';
  return now < closesAt ? 'open' : 'closed';
}

/**
 * Shows what other days, or another zone, would do to the cars that are signed off. Nothing is written.
 *
 * @throws ProblemError `not-found`, `not-acceptable`
 */
export async function previewEvent(deps: Deps, eventId: string, changes: EventChanges): Promise<EventPreview> {
  const db = deps.db.prisma;
  const current = await findEvent(db, eventId);
  if (current === undefined) throw notFound('event');
  const { days } = await applyChanges(db, current, changes);
  const moved = await previewDays(db, { eventId, from: current, to: days });
  return { preview: daysTag(eventId, current, days), sameDays: sameDays(current, days), ...moved };
}

/** Names a change of the days, from what to what: shown by the preview, asked for by the change. */
function daysTag(eventId: string, from: EventDays, to: EventDays): string {
  const plain = ({ startsOn, endsOn, timeZone }: EventDays) => ({ startsOn, endsOn, timeZone });
  return canonicalHash({ eventId, from: plain(from), to: plain(to) });
}
