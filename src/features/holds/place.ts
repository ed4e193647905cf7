import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { viewClearance } from '../../http/clearance-view.ts';
import { inTransaction } from '../../platform/db.ts';
import { lockEntryForChange } from '../../records/entry-for-change.ts';
import { recordEvent } from '../../records/history.ts';
import { tellEntrant } from '../../records/tell-entrant.ts';
import type { HoldView, PlaceHold } from './schemas.ts';
import { insertHold } from './store.ts';

/**
 * Takes a clearance away at once: when this returns, the gate says no.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn)
 */
export async function placeHold(
  deps: Deps,
  actor: Actor,
  input: { entryId: string; body: PlaceHold; requestId: string },
): Promise<HoldView> {
  const { entryId, body, requestId } = input;
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntryForChange(tx, entryId, now);
    const hold = await insertHold(tx, { entryId, reason: body.reason, actor, at: now });
    const event = { type: 'held', holdId: hold.holdId, reason: body.reason } as const;
    await recordEvent(tx, entry, { actor, at: now, action: 'hold.placed', event, requestId });
    await tellEntrant(tx, { entryId, kind: 'hold.placed', id: hold.holdId, requestId });
    return { ...hold, carNumber: entry.carNumber, clearance: viewClearance(entry.facts, now) };
  });
}
