import { z } from 'zod';
import { barStands } from '../../domain/clearance/clearance.ts';
import { hasDates } from '../../domain/clearance/clearance-timeline.ts';
import type { Deps } from '../../deps.ts';
import type { Tx } from '../../platform/database/db.ts';
import { decisionTime } from '../../platform/clock.ts';
import { defineJob } from '../../platform/queue/job.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import {
  CLEARANCE_EXPIRE,
  EVENT_DAYS_CHANGED,
  type EventCause,
  findEventCause,
  forEachEntry,
  listAcceptances,
  outcomeOf,
  type StandingAcceptance,
} from '../../records/locks/event-days.ts';
import type { LockedEntry } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { closeTicket, openTicket } from '../../records/tickets.ts';

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
