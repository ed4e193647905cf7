import { z } from 'zod';
import type { Deps } from '../deps.ts';
import { addDays, type PlainDate, startOfNextDay } from '../domain/calendar.ts';
import { inTransaction, type Tx } from '../platform/database/db.ts';
import { defineJob, type JobContext } from '../platform/queue/job.ts';
import { appendOutbox, type OutboxEntry } from '../platform/queue/outbox.ts';

/** Days after the last event day for which an entrant's token works, unless told otherwise. */
const DAYS_AFTER_EVENT = 7;

/** The first instant at which an entrant's token of this event no longer works, unless told otherwise. */
export function entrantTokenEnd(event: { endsOn: PlainDate; timeZone: string }): Date {
  return startOfNextDay(addDays(event.endsOn, DAYS_AFTER_EVENT), event.timeZone);
}

/**
 * Moves the ends of an event's entrant tokens with the event, so that a postponed event does not lock its entrants out.
 * Only ends that were never chosen move: those that stand where the event put them.
 */
export async function moveEntrantTokenEnds(tx: Tx, eventId: string, ends: { from: Date; to: Date }): Promise<void> {
  if (ends.from.getTime() === ends.to.getTime()) return;
  await tx.token.updateMany({
    where: { entry: { eventId }, revokedAt: null, expiresAt: ends.from },
    data: { expiresAt: ends.to },
  });
}

const Payload = z.strictObject({
  entryId: z.uuid(),
  kind: z.string().max(60),
  id: z.uuid(),
  also: z.boolean().optional(),
});

/** Tells the entrant that something happened to the entry: `kind` is the action, `id` what it was about. */
export const notifyEntrantJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: 'entrant.tell',
  payload: Payload,
  attempts: 8,
  backoffMs: 2000,
  async handle(deps, { entryId, kind, id, also = false }, context) {
    const dedupeKey = also ? `${kind}/${id}/${entryId}` : `${kind}/${id}`;
    await notifyOnce(deps, context, { dedupeKey, entryId, kind, facts: { id } });
  },
});

/** Orders the message in the transaction of what it tells; `also`: it is told at another entry too. */
export async function notifyEntrant(
  tx: Tx,
  message: { entryId: string; kind: string; id: string; also?: true; requestId: string },
): Promise<void> {
  await appendOutbox(tx, entrantNotice(message));
}

/** The same as a job that is still to be written. */
export function entrantNotice(message: Parameters<typeof notifyEntrant>[1]): OutboxEntry {
  const { requestId, ...payload } = message;
  return { name: notifyEntrantJob.name, payload, requestId };
}

/** Something an entrant is told. */
interface Message {
  /** makes a job that runs twice tell it once */
  dedupeKey: string;
  entryId: string;
  /** `noun.verb` */
  kind: string;
  /** ids and states; no names, no addresses */
  facts: Readonly<Record<string, unknown>>;
}

/** The job that writes a message about something that an entrant is told. */
export const MAIL_WRITE = 'mail.write';

/**
 * Tells the entrant, once per `dedupeKey`: a line in the log, and where messages are on the order of one, in the same
 * transaction. Safe to run twice.
 */
export async function notifyOnce(deps: Deps, context: JobContext, message: Message): Promise<void> {
  const { dedupeKey, entryId, kind } = message;
  const writes = deps.config.mail.mode !== 'off';
  const isNew = await inTransaction(deps.db.prisma, async (tx) => {
    const data = { dedupeKey, entryId, kind, transport: writes ? 'mail' : 'log', sentAt: deps.clock.now() };
    const { count } = await tx.notification.createMany({ data, skipDuplicates: true });
    if (count === 0 || !writes) return count > 0;
    const payload = { entryId, happened: kind, id: dedupeKey.split('/')[1], dedupeKey };
    await appendOutbox(tx, { name: MAIL_WRITE, payload, requestId: context.requestId });
    return true;
  });
  if (!isNew) return;
  context.log.info({ entryId: message.entryId, kind: message.kind, ...message.facts }, 'entrant notified');
}
