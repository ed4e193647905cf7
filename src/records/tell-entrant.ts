import { z } from 'zod';
import type { Deps } from '../deps.ts';
import type { Tx } from '../platform/db.ts';
import { defineJob } from '../platform/job.ts';
import { appendOutbox, type OutboxEntry } from '../platform/outbox.ts';
import { notifyOnce } from './notifications.ts';

const Payload = z.strictObject({
  entryId: z.uuid(),
  kind: z.string().max(60),
  id: z.uuid(),
  also: z.boolean().optional(),
});

/** Tells the entrant that something happened to the entry: `kind` is the action, `id` what it was about. */
export const entrantTellJob = defineJob<Deps, z.infer<typeof Payload>>({
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
export async function tellEntrant(
  tx: Tx,
  message: { entryId: string; kind: string; id: string; also?: true; requestId: string },
): Promise<void> {
  await appendOutbox(tx, tellEntrantJob(message));
}

/** The same as a job that is still to be written. */
export function tellEntrantJob(message: Parameters<typeof tellEntrant>[1]): OutboxEntry {
  const { requestId, ...payload } = message;
  return { name: entrantTellJob.name, payload, requestId };
}
