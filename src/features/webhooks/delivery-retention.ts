import type { Deps } from '../../deps.ts';
import { deleteInBatches } from '../../platform/keeper.ts';

const KEPT_MS = 30 * 86_400_000;

// Attempts go with their delivery.
const FINISHED = `DELETE FROM webhook_deliveries WHERE id IN
  (SELECT id FROM webhook_deliveries WHERE finished_at < $2 ORDER BY finished_at LIMIT $1)`;

/** Forgets deliveries of all webhooks that finished over 30 days ago, with their attempts. Returns how many. */
export async function removeOldDeliveries({ db, clock }: Deps, signal?: AbortSignal): Promise<number> {
  const before = new Date(clock.now().getTime() - KEPT_MS);
  return deleteInBatches(db.pool, { text: FINISHED, values: [before] }, signal);
}
