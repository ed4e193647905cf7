import type { Tx } from '../../platform/database/db.ts';
import type { MessageFormat } from '../../domain/history/webhook-messages.ts';
import type { WebhookView } from './webhook-schemas.ts';

/** A webhook as it is shown, with the version that changes start from. */
export interface StoredWebhook {
  view: WebhookView;
  rev: number;
}

/** One signing secret; `endsAt` (RFC 3339): it was replaced and signs until then. */
export interface Secret {
  secret: string;
  endsAt?: string;
}

interface Row {
  id: string;
  url: string;
  types: string[];
  eventId: string | null;
  format: string;
  description: string | null;
  enabled: boolean;
  disabledReason: string | null;
  disabledAt: Date | null;
  failures: number;
  lastSuccessAt: Date | null;
  pausedUntil: Date | null;
  rev: number;
  createdAt: Date;
}

// Never the secrets.
const SHOWN = {
  id: true,
  url: true,
  types: true,
  eventId: true,
  format: true,
  description: true,
  enabled: true,
  disabledReason: true,
  disabledAt: true,
  failures: true,
  lastSuccessAt: true,
  pausedUntil: true,
  rev: true,
  createdAt: true,
} as const;
// Any fixed number that nothing else in the database uses.
const CREATION_LOCK = 4_021_177_309;

function toStored(row: Row): StoredWebhook {
  return {
    rev: row.rev,
    view: {
      webhookId: row.id,
      url: row.url,
      types: row.types,
      ...(row.eventId === null ? {} : { eventId: row.eventId }),
      // The table has a CHECK on it.
      format: row.format as MessageFormat,
      ...(row.description === null ? {} : { description: row.description }),
      enabled: row.enabled,
      ...(row.disabledReason === null ? {} : { disabledReason: row.disabledReason }),
      ...(row.disabledAt === null ? {} : { disabledAt: row.disabledAt.toISOString() }),
      failures: row.failures,
      ...(row.lastSuccessAt === null ? {} : { lastSuccessAt: row.lastSuccessAt.toISOString() }),
      ...(row.pausedUntil === null ? {} : { pausedUntil: row.pausedUntil.toISOString() }),
      createdAt: row.createdAt.toISOString(),
    },
  };
}

/** Makes whoever creates webhooks take turns until the end of the transaction, so that the limit holds. */
export async function lockCreation(tx: Tx): Promise<void> {
  await tx.$executeRaw`SELECT pg_advisory_xact_lock(${CREATION_LOCK}::bigint)`;
}

export async function countWebhooks(db: Tx): Promise<number> {
  return db.webhook.count();
}

export async function hasEvent(db: Tx, eventId: string): Promise<boolean> {
  return (await db.event.count({ where: { id: eventId } })) > 0;
}

export async function insertWebhook(
  db: Tx,
  webhook: {
    url: string;
    types: string[];
    eventId?: string | undefined;
    format: MessageFormat;
    description?: string | undefined;
    secrets: { secret: string }[];
    createdBy: string;
    createdAt: Date;
  },
): Promise<StoredWebhook> {
  return toStored(await db.webhook.create({ data: webhook, select: SHOWN }));
}

export async function findWebhook(db: Tx, webhookId: string): Promise<StoredWebhook | undefined> {
  const row = await db.webhook.findUnique({ where: { id: webhookId }, select: SHOWN });
  return row === null ? undefined : toStored(row);
}

/** Webhooks in order of their id, which is the order they were made in. */
export async function listWebhooks(db: Tx, after: string | undefined, take: number): Promise<StoredWebhook[]> {
  const where = after === undefined ? {} : { id: { gt: after } };
  const rows = await db.webhook.findMany({ where, select: SHOWN, orderBy: { id: 'asc' }, take });
  return rows.map(toStored);
}

/** Changes a webhook that still has the version `rev`; undefined when it has moved on. */
export async function updateWebhook(
  tx: Tx,
  webhookId: string,
  rev: number,
  data: {
    url?: string;
    types?: string[];
    description?: string | null;
    enabled?: boolean;
    disabledReason?: string | null;
    disabledAt?: Date | null;
    failures?: number;
    pausedUntil?: Date | null;
  },
): Promise<StoredWebhook | undefined> {
  const { count } = await tx.webhook.updateMany({
    where: { id: webhookId, rev },
    data: { ...data, rev: { increment: 1 } },
  });
  return count === 0 ? undefined : findWebhook(tx, webhookId);
}

/** Removes a webhook with all its deliveries; false when there was none. */
export async function deleteWebhook(db: Tx, webhookId: string): Promise<boolean> {
  return (await db.webhook.deleteMany({ where: { id: webhookId } })).count > 0;
}

/** Locks the secrets of a webhook until the end of the transaction; newest first, undefined when there is no webhook. */
export async function lockSecrets(tx: Tx, webhookId: string): Promise<Secret[] | undefined> {
  const rows = await tx.$queryRaw<{ secrets: Secret[] }[]>`
    SELECT secrets FROM webhooks WHERE id = ${webhookId}::uuid FOR UPDATE`;
  return rows[0]?.secrets;
}

export async function updateSecrets(tx: Tx, webhookId: string, secrets: readonly Secret[]): Promise<void> {
  await tx.webhook.update({ where: { id: webhookId }, data: { secrets: secrets.map((one) => ({ ...one })) } });
}
