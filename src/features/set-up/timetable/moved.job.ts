import { z } from 'zod';
import { movedConditions, torqueRecheckTimes } from '../../../domain/log/condition-due.ts';
import type { Timetable } from '../../../domain/log/timetable.ts';
import type { Deps } from '../../../deps.ts';
import { decisionTime } from '../../../platform/clock.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { defineJob } from '../../../platform/queue/job.ts';
import { appendOutbox, type OutboxEntry } from '../../../platform/queue/outbox.ts';
import { recordCarHistory, recordEntryHistory } from '../../../records/history/history.ts';
import {
  CONDITION_FALL_DUE,
  type EventCause,
  findEventCause,
  forEachEntry,
} from '../../../records/locks/event-days.ts';
import type { LockedEntry } from '../../../records/locks/entry-lock.ts';
import { type EventFrame, findEventFrame, findRunGroup, type StoredRunGroup } from '../run-group-store.ts';

const TIMETABLE_MOVED = 'run-group.timetable-moved';
const Payload = z.strictObject({ eventId: z.uuid(), seq: z.int().min(1) });

/** Orders it in the transaction that changed the timetable; `seq`: the row of the event's history that tells of it. */
export const timetableJob = (of: { eventId: string; seq: number; requestId: string }): OutboxEntry => {
  const { requestId, ...payload } = of;
  return { name: TIMETABLE_MOVED, payload, requestId };
};

interface Cause extends Omit<EventCause, 'data'> {
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
    const cause = await findCause(db, { eventId, seq }, context.requestId ?? `event-${eventId}`);
    if (cause === undefined) return;
    // Every entry and not only those with a condition: one may be signed off by the timetable of before just now.
    await forEachEntry(db, { runGroupId: cause.runGroupId }, 'change', async (tx, entry) => {
      if (entry.facts.conditions.length > 0) await moveConditions(deps, tx, entry, cause);
    });
  },
});

async function findCause(db: Tx, at: { eventId: string; seq: number }, requestId: string): Promise<Cause | undefined> {
  const found = await findEventCause(db, at);
  if (found === undefined) return undefined;
  const { data, ...by } = found;
  // Written by us only; a change of nothing but the first session does not name the sessions when there are none.
  const { runGroupId, from } = data as { runGroupId: string; from: { sessions?: Timetable } };
  return { ...by, runGroupId, before: from.sessions ?? [], requestId };
}

async function moveConditions(deps: Deps, tx: Tx, entry: LockedEntry, cause: Cause): Promise<void> {
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
