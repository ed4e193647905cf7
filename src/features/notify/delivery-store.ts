import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../deps.ts';
import type { MessageFormat } from '../../domain/history/webhook-messages.ts';
import type { Tx } from '../../platform/database/db.ts';
import { deleteInBatches } from '../../platform/queue/job.ts';
import type { DeliveryState, DeliveryView } from './webhook-schemas.ts';
import type { Secret } from './webhook-store.ts';

const KEPT_MS = 30 * 86_400_000;

// Attempts go with their delivery.
const FINISHED = `DELETE FROM webhook_deliveries WHERE id IN
  (SELECT id FROM webhook_deliveries WHERE finished_at < $2 ORDER BY finished_at LIMIT $1)`;

/** Forgets deliveries of all webhooks that finished over 30 days ago, with their attempts. Returns how many. */
export async function removeOldDeliveries({ db, clock }: Deps, signal?: AbortSignal): Promise<number> {
  const before = new Date(clock.now().getTime() - KEPT_MS);
  return deleteInBatches(db.pool, { text: FINISHED, values: [before] }, signal);
}

/** A webhook that is locked until the transaction ends, as sending needs it. */
export interface LockedWebhook {
  webhookId: string;
  /** the event it is for; null: all */
  eventId: string | null;
  url: string;
  format: MessageFormat;
  secrets: Secret[];
  enabled: boolean;
  failures: number;
  lastSuccessAt: Date | null;
  pausedUntil: Date | null;
  /** the instant for which a job is ordered already */
  wakeAt: Date | null;
  /** set while a worker is sending */
  busyUntil: Date | null;
}

/** A message to one receiver that is due. */
export interface DueDelivery {
  deliveryId: string;
  messageId: string;
  type: string;
  body: string;
  tries: number;
  trace: string | null;
}

interface DeliveryRow {
  id: string;
  messageId: string;
  type: string;
  state: string;
  body: string;
  createdAt: Date;
  dueAt: Date;
  finishedAt: Date | null;
  attempts: {
    number: number;
    startedAt: Date;
    durationMs: number;
    status: number | null;
    answer: string | null;
    error: string | null;
  }[];
}

const WITH_ATTEMPTS = { attempts: { orderBy: { number: 'asc' } } } as const;

function toView(row: DeliveryRow): DeliveryView {
  return {
    deliveryId: row.id,
    messageId: row.messageId,
    type: row.type,
    // The table has a CHECK on state, so the text is one of ours.
    state: row.state as DeliveryState,
    createdAt: row.createdAt.toISOString(),
    ...(row.state === 'pending' ? { dueAt: row.dueAt.toISOString() } : {}),
    ...(row.finishedAt === null ? {} : { finishedAt: row.finishedAt.toISOString() }),
    body: row.body,
    attempts: row.attempts.map(({ number, startedAt, durationMs, status, answer, error }) => ({
      number,
      startedAt: startedAt.toISOString(),
      durationMs,
      ...(status === null ? {} : { status }),
      ...(answer === null ? {} : { answer }),
      ...(error === null ? {} : { error }),
    })),
  };
}

/** Locks a webhook: whoever changes what is sent to it does so one after the other. Undefined when there is none. */
export async function lockWebhook(tx: Tx, webhookId: string): Promise<LockedWebhook | undefined> {
  const rows = await tx.$queryRaw<LockedWebhook[]>`
    SELECT id::text AS "webhookId", event_id::text AS "eventId", url, format, secrets, enabled, failures, last_success_at AS "lastSuccessAt",
           paused_until AS "pausedUntil", wake_at AS "wakeAt",
           CASE WHEN busy_until > clock_timestamp() THEN busy_until END AS "busyUntil"
    FROM webhooks WHERE id = ${webhookId}::uuid FOR UPDATE`;
  return rows[0];
}

/** How many webhooks whose last attempt failed are being sent to right now, in all processes. */
export async function countFailingBusy(tx: Tx): Promise<number> {
  const rows = await tx.$queryRaw<{ n: number }[]>`
    SELECT count(*)::int AS n FROM webhooks WHERE failures > 0 AND busy_until > clock_timestamp()`;
  return rows[0]?.n ?? 0;
}

/** Enabled webhooks that listen to an event, made before something happened there. */
export async function listListeners(db: Tx, eventId: string, at: Date): Promise<{ id: string; types: string[] }[]> {
  return db.webhook.findMany({
    where: { enabled: true, createdAt: { lte: at }, OR: [{ eventId: null }, { eventId }] },
    select: { id: true, types: true },
    orderBy: { id: 'asc' },
  });
}

/** Keeps a message for a webhook; undefined when it was kept before. */
export async function insertDelivery(
  tx: Tx,
  delivery: {
    webhookId: string;
    messageId: string;
    type: string;
    body: string;
    dueAt: Date;
    createdAt: Date;
    requestId: string | null;
  },
): Promise<string | undefined> {
  const id = uuidV7();
  const { count } = await tx.webhookDelivery.createMany({ data: [{ id, ...delivery }], skipDuplicates: true });
  return count === 0 ? undefined : id;
}

export async function findDelivery(
  db: Tx,
  { webhookId, deliveryId }: { webhookId: string; deliveryId: string },
): Promise<DeliveryView | undefined> {
  const row = await db.webhookDelivery.findFirst({ where: { id: deliveryId, webhookId }, include: WITH_ATTEMPTS });
  return row === null ? undefined : toView(row);
}

/** Deliveries of a webhook, newest first. */
export async function listDeliveries(
  db: Tx,
  {
    webhookId,
    state,
    before,
    take,
  }: {
    webhookId: string;
    state: DeliveryState | undefined;
    before: string | undefined;
    take: number;
  },
): Promise<DeliveryView[]> {
  const rows = await db.webhookDelivery.findMany({
    where: {
      webhookId,
      ...(state === undefined ? {} : { state }),
      ...(before === undefined ? {} : { id: { lt: before } }),
    },
    include: WITH_ATTEMPTS,
    orderBy: { id: 'desc' },
    take,
  });
  return rows.map(toView);
}

export async function findDue(tx: Tx, webhookId: string, now: Date): Promise<DueDelivery | undefined> {
  const row = await tx.webhookDelivery.findFirst({
    where: { webhookId, state: 'pending', dueAt: { lte: now } },
    select: { id: true, messageId: true, type: true, body: true, tries: true, trace: true },
    orderBy: [{ dueAt: 'asc' }, { id: 'asc' }],
  });
  if (row === null) return undefined;
  const { id: deliveryId, ...rest } = row;
  return { deliveryId, ...rest };
}

/** When the next message to a webhook is due. */
export async function findNextDue(tx: Tx, webhookId: string): Promise<Date | undefined> {
  const { _min } = await tx.webhookDelivery.aggregate({
    where: { webhookId, state: 'pending' },
    _min: { dueAt: true },
  });
  return _min.dueAt ?? undefined;
}

export async function insertAttempt(
  tx: Tx,
  attempt: {
    deliveryId: string;
    startedAt: Date;
    durationMs: number;
    status: number | null;
    answer: string | null;
    error: string | null;
  },
): Promise<void> {
  const { deliveryId } = attempt;
  const { _max } = await tx.webhookAttempt.aggregate({ where: { deliveryId }, _max: { number: true } });
  await tx.webhookAttempt.create({ data: { ...attempt, number: (_max.number ?? 0) + 1 } });
}

/** When the first of the last `tries` attempts began. */
export async function findRunStart(tx: Tx, deliveryId: string, tries: number): Promise<Date | undefined> {
  const rows = await tx.webhookAttempt.findMany({ where: { deliveryId }, orderBy: { number: 'desc' }, take: tries });
  return rows.at(-1)?.startedAt;
}

/** Puts a delivery into a state, if it is in one of those given. */
export async function updateDelivery(
  tx: Tx,
  deliveryId: string,
  from: readonly DeliveryState[],
  data: { state: DeliveryState; tries: number; dueAt?: Date | undefined; finishedAt: Date | null },
): Promise<void> {
  await tx.webhookDelivery.updateMany({ where: { id: deliveryId, state: { in: [...from] } }, data });
}

/** Gives up what waits for a webhook. */
export async function cancelPending(tx: Tx, webhookId: string, now: Date): Promise<void> {
  await tx.webhookDelivery.updateMany({
    where: { webhookId, state: 'pending' },
    data: { state: 'cancelled', finishedAt: now },
  });
}

export async function updateWakeAt(tx: Tx, webhookId: string, wakeAt: Date | null): Promise<void> {
  await tx.webhook.update({ where: { id: webhookId }, data: { wakeAt } });
}

/** Takes or renews the right to send to a webhook, by the database clock; 0 seconds give it back. */
export async function updateBusy(tx: Tx, webhookId: string, seconds: number): Promise<void> {
  await tx.$executeRaw`
    UPDATE webhooks
    SET busy_until = CASE WHEN ${seconds}::int > 0 THEN clock_timestamp() + make_interval(secs => ${seconds}::int) END
    WHERE id = ${webhookId}::uuid`;
}

/** What an attempt means for the webhook as a whole. */
export async function updateHealth(
  tx: Tx,
  webhookId: string,
  health: { failures: number; lastSuccessAt?: Date; pausedUntil: Date | null },
): Promise<void> {
  await tx.webhook.update({ where: { id: webhookId }, data: health });
}

/** Stops sending; people who change the webhook meanwhile see that it moved on. */
export async function disable(tx: Tx, webhookId: string, reason: string, at: Date): Promise<void> {
  await tx.webhook.updateMany({
    where: { id: webhookId, enabled: true },
    data: { enabled: false, disabledReason: reason, disabledAt: at, rev: { increment: 1 } },
  });
  await cancelPending(tx, webhookId, at);
}
