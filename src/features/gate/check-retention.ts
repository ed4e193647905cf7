import type { Deps } from '../../deps.ts';
import { deleteInBatches } from '../../platform/keeper.ts';
import { listEventsWithOldChecks } from './store.ts';

/** Days after the last event day for which lookups are kept that nothing speaks against. */
export const CHECKS_KEPT_DAYS = 30;

const PLAIN = `DELETE FROM gate_checks WHERE id IN
  (SELECT id FROM gate_checks WHERE event_id = $2 AND contradicts IS NULL LIMIT $1)`;
const ALL = 'DELETE FROM gate_checks WHERE id IN (SELECT id FROM gate_checks WHERE event_id = $2 LIMIT $1)';

/**
 * Removes lookups of events that are over: 30 days after the last event day those that nothing speaks against, and with
 * the event's personal data (`retentionDays`) all that are left. Returns how many.
 */
export async function removeOldChecks({ db, clock, log }: Deps, signal?: AbortSignal): Promise<number> {
  let removed = 0;
  for (const { eventId, all } of await listEventsWithOldChecks(db.pool, clock.now(), CHECKS_KEPT_DAYS)) {
    if (signal?.aborted === true) break;
    removed += await deleteInBatches(db.pool, { text: all ? ALL : PLAIN, values: [eventId] }, signal);
  }
  if (removed > 0) log.info({ removed }, 'gate lookups were removed whose time was over');
  return removed;
}
