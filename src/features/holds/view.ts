import { itemsToInspectAgain } from '../../domain/hold-kinds.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { viewClearance } from '../../http/clearance-view.ts';
import { type LockedEntry, stateOf } from '../../records/entry-lock.ts';
import type { HoldView } from './schemas.ts';
import type { StoredHold } from './store.ts';

/** A hold with what the gate says of the entry it was placed at. */
export function viewHold(
  hold: StoredHold,
  placed: {
    entry: LockedEntry;
    stopped: readonly { entryId: string; carNumber: string; runGroup: string }[];
    warnings?: readonly string[];
    /** needed where the hold is about the car */
    vehicle?: Vehicle | undefined;
  },
  now: Date,
): HoldView {
  const { entry, stopped, vehicle, warnings = [] } = placed;
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
    inspectAgain: about === 'car' && vehicle !== undefined ? itemsToInspectAgain(kind, vehicle) : [],
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
