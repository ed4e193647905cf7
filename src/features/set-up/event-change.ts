import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { daysBetween } from '../../domain/calendar.ts';
import { instrumentFaults } from '../../domain/line/instruments.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/headers.ts';
import { type FieldError, notAcceptable, notFound } from '../../http/frame/problem.ts';
import { canonicalHash, canonicalJson } from '../../platform/canonical-json.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { lockEvent, recordEventChange } from '../../records/history/event-history.ts';
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
import { entrantTokenEnd, moveEntrantTokenEnds } from '../../records/notify-entrant.ts';
import { forgetLinePlan } from '../../records/tickets.ts';
import type { EventChanges, EventInput, EventPreview, EventView } from './event-schemas.ts';
import {
  findEvent,
  findZone,
  hasVenue,
  insertEvent,
  shareVenue,
  type StoredEvent,
  updateEvent,
} from './event-store.ts';

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
    if (moved) await forgetLinePlan(tx, eventId);
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

/**
 * What an event would be with the changes, and its days then. Nothing is stored.
 *
 * @throws ProblemError `not-acceptable`
 */
async function applyChanges(
  db: Tx,
  current: StoredEvent,
  changes: EventChanges,
): Promise<{ wanted: EventInput; days: EventDays }> {
  const { reason: _reason, preview: _preview, ...fields } = changes;
  const wanted: EventInput = { ...toInput(current), ...fields };
  await assertEventMakesSense(db, wanted);
  const { startsOn, endsOn, venueId } = wanted;
  const timeZone = venueId === current.venueId ? current.timeZone : ((await findZone(db, venueId)) ?? current.timeZone);
  return { wanted, days: { startsOn, endsOn, timeZone } };
}

/** An event as it would be sent. */
export function toInput(event: StoredEvent): EventInput {
  return {
    name: event.name,
    venueId: event.venueId,
    startsOn: event.startsOn,
    endsOn: event.endsOn,
    declarationsOpenAt: event.declarationsOpenAt.toISOString(),
    declarationsCloseAt: event.declarationsCloseAt.toISOString(),
    retentionDays: event.retentionDays,
    lookAlikes: event.lookAlikes,
    zeroTwins: event.zeroTwins,
    instruments: event.instruments,
  };
}

const MAX_DAYS = 31;

/**
 * Checks what the fields of an event mean together.
 *
 * @throws ProblemError `not-acceptable` naming every place
 */
export async function assertEventMakesSense(db: Tx, event: EventInput): Promise<void> {
  const errors = [...dayFaults(event), ...windowFaults(event), ...readWithFaults(event)];
  if (!(await hasVenue(db, event.venueId))) {
    errors.push({ pointer: '/venueId', code: 'unknown-venue', detail: 'There is no such venue.', in: 'body' });
  }
  if (errors.length === 0) return;
  throw notAcceptable(errors);
}

function dayFaults({ startsOn, endsOn }: EventInput): FieldError[] {
  const days = daysBetween(startsOn, endsOn) + 1;
  if (days < 1) {
    return [{ pointer: '/endsOn', code: 'days-reversed', detail: 'The last day is before the first.', in: 'body' }];
  }
  if (days <= MAX_DAYS) return [];
  const detail = `The event would have ${days} days; at most ${MAX_DAYS} are possible.`;
  return [{ pointer: '/endsOn', code: 'too-many-days', detail, in: 'body' }];
}

function windowFaults({ declarationsOpenAt, declarationsCloseAt }: EventInput): FieldError[] {
  if (Date.parse(declarationsOpenAt) < Date.parse(declarationsCloseAt)) return [];
  const detail = 'Declarations close before they open.';
  return [{ pointer: '/declarationsCloseAt', code: 'window-reversed', detail, in: 'body' }];
}

const readWithFaults = ({ instruments }: EventInput): FieldError[] =>
  instrumentFaults(instruments).map(({ at, detail }) => {
    return { pointer: ['/instruments', ...at].join('/'), code: 'not-usable', detail, in: 'body' };
  });
