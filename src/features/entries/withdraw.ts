import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { once } from '../../http/frame/idempotency.ts';
import type { Answer } from '../../http/frame/route.ts';
import { type ChangedClearance, viewClearance } from '../../http/views/clearance-view.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { lockEntryForChange, stateOf } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';

interface Withdrawing {
  entryId: string;
  reason: string | undefined;
  /** absent: a repeat is refused */
  key: string | undefined;
  requestId: string;
}

/**
 * Takes an entry out of the event for good: off the line, and the gate says no.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn already), `idempotency-key-reused`
 */
export async function withdrawEntry(deps: Deps, actor: Actor, withdrawing: Withdrawing): Promise<Answer> {
  const { entryId, reason, key } = withdrawing;
  return inTransaction(deps.stops.prisma, (tx) => {
    const change = async (): Promise<Answer> => ({ status: 200, body: await withdraw(tx, deps, actor, withdrawing) });
    if (key === undefined) return change();
    const body = reason === undefined ? {} : { reason };
    return once(tx, { actor, route: `POST /v1/entries/${entryId}/withdraw`, key, body }, change);
  });
}

async function withdraw(
  tx: Tx,
  deps: Deps,
  actor: Actor,
  { entryId, reason, requestId }: Withdrawing,
): Promise<ChangedClearance> {
  const now = deps.clock.now();
  const entry = await lockEntryForChange(tx, entryId, 'change');
  await closeTicket(tx, entry, 'void', now);
  const data = reason === undefined ? {} : { reason };
  await recordEntryHistory(tx, entry, {
    actor,
    at: now,
    action: 'entry.withdrawn',
    happening: { type: 'withdrawn' },
    data,
    requestId,
  });
  await notifyEntrant(tx, { entryId, kind: 'entry.withdrawn', id: entryId, requestId });
  return { entryId, carNumber: entry.carNumber, clearance: viewClearance(stateOf(entry), now) };
}
