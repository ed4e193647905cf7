import { itemsToInspectAgain } from '../../domain/hold-kinds.ts';
import { viewClearance } from '../../http/clearance-view.ts';
import type { Tx } from '../../platform/db.ts';
import { type LockedEntry, stateOf } from '../../records/entry-lock.ts';
import type { HoldView } from './schemas.ts';
import { getVehicle, type StoredHold } from './store.ts';

/** A hold with what the gate says of the entry it was placed at. */
export async function viewHold(
  db: Tx,
  hold: StoredHold,
  placed: {
    entry: LockedEntry;
    stopped: readonly { entryId: string; carNumber: string; runGroup: string }[];
    warnings?: readonly string[];
  },
  now: Date,
): Promise<HoldView> {
  const { entry, stopped, warnings = [] } = placed;
  const { holdId, entryId, about, kind, personId, byEntrant, reason, placedBy, placedAt, lifted } = hold;
  return {
    holdId,
    entryId,
    carNumber: entry.carNumber,
    about,
    kind,
    ...(personId === null ? {} : { personId }),
    byEntrant,
    reason,
    placedBy,
    placedAt: placedAt.toISOString(),
    inspectAgain: about === 'car' ? itemsToInspectAgain(kind, await getVehicle(db, entry.vehicleId)) : [],
    alsoStopped: stopped
      .filter((other) => other.entryId !== entry.entryId)
      .map((other) => ({ entryId: other.entryId, carNumber: other.carNumber, runGroup: other.runGroup })),
    warnings: [...warnings],
    ...(lifted === undefined
      ? {}
      : {
          liftedBy: lifted.by,
          liftedAt: lifted.at.toISOString(),
          liftReason: lifted.reason,
          ...(lifted.exception === null ? {} : { liftException: lifted.exception }),
        }),
    requiresReinspection: hold.requiresReinspection,
    clearance: viewClearance(stateOf(entry), now),
  };
}
