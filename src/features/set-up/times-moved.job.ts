import { z } from 'zod';
import { CLEARANCE_EXPIRE, CONDITION_FALL_DUE } from '../../records/what-stands.ts';
import { barStands } from '../../domain/clearance/clearance.ts';
import { hasDates } from '../../domain/clearance/clearance-timeline.ts';
import type { Deps } from '../../deps.ts';
import type { Tx } from '../../platform/database/db.ts';
import { decisionTime } from '../../platform/clock.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { appendOutbox, type OutboxEntry } from '../../platform/queue/outbox.ts';
import {
  EVENT_DAYS_CHANGED,
  type EventCause,
  findEventCause,
  forEachEntry,
  listAcceptances,
  outcomeOf,
  type StandingAcceptance,
} from '../../records/locks/event-days.ts';
import type { LockedEntry } from '../../records/locks/entry-lock.ts';
import { recordCarHistory, recordEntryHistory } from '../../records/history/history.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { closeTicket, openTicket } from '../../records/tickets.ts';
import { movedConditions, torqueRecheckTimes } from '../../domain/log/condition-due.ts';
import type { Timetable } from '../../domain/log/timetable.ts';
import { type EventFrame, findEventFrame, findRunGroup, type StoredRunGroup } from './run-group-store.ts';

const Payload = z.strictObject({ eventId: z.uuid(), seq: z.int().min(1) });
const MOVED = 'the event moved to other days';

/** Who changed the days and why, from the row that tells it. */
interface Cause extends Omit<EventCause, 'data'> {
  reason: string;
  requestId: string;
}

/**
 * Derives every acceptance of an event anew after its days changed, each in a transaction of its own. It goes by the
 * days as they are then and by what each acceptance was given for, so running it again, or late, changes nothing more.
 */
export const daysChangedJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: EVENT_DAYS_CHANGED,
  payload: Payload,
  attempts: 10,
  backoffMs: 2000,
  async handle(deps, { eventId, seq }, context) {
    const db = deps.db.prisma;
    const cause = await findCause(db, { eventId, seq }, context.requestId ?? `event-${eventId}`);
    if (cause === undefined) return;
    // Every entry and not only those with an acceptance: one may be signed off by the days of before just now.
    await forEachEntry(db, { eventId }, 'decide', (tx, entry) => deriveEntry(deps, tx, entry, cause));
  },
});

async function findCause(db: Tx, at: { eventId: string; seq: number }, requestId: string): Promise<Cause | undefined> {
  const found = await findEventCause(db, at);
  if (found === undefined) return undefined;
  const { data, ...by } = found;
  // written by us only
  const { reason = MOVED } = data as { reason?: string };
  return { ...by, reason, requestId };
}

async function deriveEntry(deps: Deps, tx: Tx, entry: LockedEntry, cause: Cause): Promise<void> {
  const { eventId, entryId, days } = entry;
  const [acceptance] = await listAcceptances(tx, { eventId, days }, entryId);
  if (acceptance === undefined) return;
  const found = outcomeOf(acceptance, days);
  if (found.outcome === 'ends') return;
  const at = await decisionTime(tx, deps.clock);
  if (found.outcome === 'line-again') return sendBack(tx, entry, cause, at);
  if (!hasDates(acceptance.signOff, found)) await changeDates(tx, entry, { acceptance, ...found, cause, at });
}

async function changeDates(
  tx: Tx,
  entry: LockedEntry,
  what: { acceptance: StandingAcceptance; validFrom: string; validUntil: string; cause: Cause; at: Date },
): Promise<void> {
  const { acceptance, validFrom, validUntil, cause, at } = what;
  const { actor, reason, requestId, historyId } = cause;
  const { signOffId } = acceptance.signOff;
  const event = { type: 'validity-changed', signOffId, validFrom, validUntil, reason } as const;
  const action = 'entry.validity-changed';
  await recordEntryHistory(tx, entry, { actor, at, action, happening: event, data: { because: historyId }, requestId });
  const payload = { signOffId };
  await appendOutbox(tx, { name: CLEARANCE_EXPIRE, payload, runAt: new Date(validUntil), requestId });
  await notifyEntrant(tx, { entryId: entry.entryId, kind: action, id: historyId, also: true, requestId });
}

async function sendBack(tx: Tx, entry: LockedEntry, cause: Cause, at: Date): Promise<void> {
  const { actor, reason, requestId, historyId } = cause;
  const { declared } = entry.facts;
  const event = { type: 'sent-back', reason: MOVED } as const;
  const action = 'entry.sent-back';
  await recordEntryHistory(tx, entry, {
    actor,
    at,
    action,
    happening: event,
    data: { because: historyId, reason },
    requestId,
  });
  await closeTicket(tx, entry, 'void', at);
  // A car that is barred cannot wait on the line: it gets there by its next submission.
  if (declared !== undefined && !declared.bars.some((bar) => barStands(bar, at))) {
    await openTicket(tx, entry, { inspectionId: declared.inspectionId, queuedAt: at });
  }
  await notifyEntrant(tx, { entryId: entry.entryId, kind: action, id: historyId, also: true, requestId });
}

const TIMETABLE_MOVED = 'run-group.timetable-moved';

/** Orders it in the transaction that changed the timetable; `seq`: the row of the event's history that tells of it. */
export const timetableJob = (of: { eventId: string; seq: number; requestId: string }): OutboxEntry => {
  const { requestId, ...payload } = of;
  return { name: TIMETABLE_MOVED, payload, requestId };
};

interface TimetableCause extends Omit<EventCause, 'data'> {
  runGroupId: string;
  /** as it was before this change */
  before: Timetable;
  requestId: string;
}

/**
 * Moves the due times of open conditions with the timetable of their run group, each entry in a transaction of its own. It
 * goes from the timetable before the change to the one of now, so running it again, late or after a newer one changes
 * nothing more.
 */
export const timetableMovedJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: TIMETABLE_MOVED,
  payload: Payload,
  attempts: 10,
  backoffMs: 2000,
  async handle(deps, { eventId, seq }, context) {
    const db = deps.db.prisma;
    const cause = await findTimetableCause(db, { eventId, seq }, context.requestId ?? `event-${eventId}`);
    if (cause === undefined) return;
    // Every entry and not only those with a condition: one may be signed off by the timetable of before just now.
    await forEachEntry(db, { runGroupId: cause.runGroupId }, 'change', async (tx, entry) => {
      if (entry.facts.conditions.length > 0) await moveConditions(deps, tx, entry, cause);
    });
  },
});

async function findTimetableCause(
  db: Tx,
  at: { eventId: string; seq: number },
  requestId: string,
): Promise<TimetableCause | undefined> {
  const found = await findEventCause(db, at);
  if (found === undefined) return undefined;
  const { data, ...by } = found;
  // Written by us only; a change of nothing but the first session does not name the sessions when there are none.
  const { runGroupId, from } = data as { runGroupId: string; from: { sessions?: Timetable } };
  return { ...by, runGroupId, before: from.sessions ?? [], requestId };
}

async function moveConditions(deps: Deps, tx: Tx, entry: LockedEntry, cause: TimetableCause): Promise<void> {
  const { eventId } = entry;
  const event = await findEventFrame(tx, eventId);
  const group = await findRunGroup(tx, eventId, entry.runGroupId);
  const signOff = await tx.signOff.findUnique({
    where: { id: entry.facts.signOff?.signOffId ?? cause.historyId },
    select: { signedAt: true },
  });
  if (event === undefined || group === undefined || signOff === null) return;
  const recheck = torqueRecheckTimes(daysOf(event, group), signOff.signedAt);
  const tables = { from: cause.before, to: group.sessions };
  const conditions = movedConditions(entry.facts.conditions, tables, recheck);
  if (conditions.length === 0) return;
  const { actor, requestId, historyId } = cause;
  const at = await decisionTime(tx, deps.clock);
  const told = { actor, at, data: { because: historyId }, requestId };
  const ofCar = { type: 'car-conditions-moved', conditions } as const;
  await recordCarHistory(tx, entry.car, { ...told, action: 'car.conditions-moved', happening: ofCar });
  await recordEntryHistory(tx, entry, {
    ...told,
    action: 'condition.moved',
    happening: { type: 'conditions-moved', conditions },
  });
  for (const { id, dueAt } of conditions) {
    await tx.condition.update({ where: { id }, data: { dueAt: dueAt === undefined ? null : new Date(dueAt) } });
    if (dueAt === undefined) continue;
    const payload = { conditionId: id };
    await appendOutbox(tx, { name: CONDITION_FALL_DUE, payload, runAt: new Date(dueAt), requestId });
  }
}

const daysOf = ({ timeZone, endsOn }: EventFrame, { firstSessionAt, sessions }: StoredRunGroup) => ({
  firstSessionAt,
  sessions,
  timeZone,
  endsOn,
});
