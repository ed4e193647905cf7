import type { Actor } from '../domain/actor.ts';
import type { Tx } from '../platform/database/db.ts';
import { recordEntryHistory } from './history/history.ts';
import type { LockedEntry } from './locks/entry-lock.ts';
import { notifyEntrant } from './notify-entrant.ts';
import { closeTicket } from './tickets.ts';

/** Why a declaration says nothing of the car any more, for entrant and gate. */
export const CAR_CHANGED = 'the record of the car changed';

/** Takes the declarations of locked entries away, with their places on the line, and tells the entrants. */
export async function voidDeclarations(
  tx: Tx,
  affected: readonly LockedEntry[],
  reason: string,
  context: { actor: Actor; at: Date; requestId: string },
): Promise<void> {
  for (const entry of affected) {
    const { declared, withdrawn } = entry.facts;
    if (declared === undefined || withdrawn) continue;
    await closeTicket(tx, entry, 'void', context.at);
    await recordEntryHistory(tx, entry, {
      ...context,
      action: 'declaration.voided',
      happening: { type: 'declaration-voided', reason },
    });
    const { entryId } = entry;
    const { requestId } = context;
    await notifyEntrant(tx, { entryId, kind: 'declaration.voided', id: declared.inspectionId, requestId });
  }
}
