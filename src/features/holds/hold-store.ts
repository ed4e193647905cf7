import type { Vehicle } from '../../domain/vehicle.ts';
import { KEPT_COLUMNS, keptJoin, type KeptRow, type Repeatable } from '../../http/idempotency.ts';
import type { Clock } from '../../platform/clock.ts';
import { decisionTimePart } from '../../platform/decision-time.ts';
import type { PlainTx, Statement } from '../../platform/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { ENTRY_COLUMNS, ENTRY_JOINS, type EntryRow } from '../../records/entry-lock.ts';
import { STICKERS } from '../../records/stickers.ts';
import { CAR_ENTRIES, type CarEntry, type StoredHold } from './store.ts';

/** What a hold depends on. */
export interface HoldRow extends EntryRow, KeptRow {
  now: Date;
  vehicle: Vehicle;
  /** entries of the car that are still in the event */
  stopped: CarEntry[];
  stickers: string[];
  /** the hold that the entrant placed and that still stands; its instant as text */
  own: (Omit<StoredHold, 'placedAt' | 'lifted'> & { placedAt: string; lifted: undefined }) | null;
}

/** Everything that decides a hold at a locked entry, in the statement after the lock. */
export async function readForHold(
  tx: PlainTx,
  input: { entryId: string; request: Repeatable | undefined; clock: Clock },
): Promise<HoldRow | undefined> {
  const [row] = await tx.rows<HoldRow>(Prisma.sql`
    SELECT ${decisionTimePart(input.clock)} AS now, ${KEPT_COLUMNS}, ${ENTRY_COLUMNS}, v.record AS vehicle,
      ARRAY(${STICKERS}) AS stickers,
      COALESCE((SELECT jsonb_agg(to_jsonb(o) - 'order' ORDER BY o."order", o."entryId") FROM (${CAR_ENTRIES}) o),
        '[]'::jsonb) AS stopped,
      (SELECT jsonb_build_object('holdId', h.id, 'entryId', h.entry_id, 'about', h.about, 'kind', h.kind,
         'carId', h.car_id, 'personId', h.person_id, 'byEntrant', h.by_entrant, 'reason', h.reason,
         'placedBy', h.placed_name, 'placedById', h.placed_by,
         'placedAt', to_char(h.placed_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'),
         'requiresReinspection', h.requires_reinspection)
       FROM holds h WHERE h.entry_id = e.id AND h.by_entrant AND h.lifted_at IS NULL ORDER BY h.id LIMIT 1) AS own
    FROM ${ENTRY_JOINS} JOIN vehicles v ON v.id = e.vehicle_id ${keptJoin(input.request)}
    WHERE e.id = ${input.entryId}::uuid`);
  return row;
}

/** A new hold as a part of one write. */
export function holdPart(hold: StoredHold): Statement {
  return Prisma.sql`
    INSERT INTO holds (id, entry_id, about, kind, car_id, person_id, by_entrant, reason, placed_by, placed_name, placed_at)
    VALUES (${hold.holdId}::uuid, ${hold.entryId}::uuid, ${hold.about}, ${hold.kind}, ${hold.carId}::uuid, ${hold.personId},
            ${hold.byEntrant}, ${hold.reason}, ${hold.placedById}::uuid, ${hold.placedBy}, ${hold.placedAt}::timestamptz)`;
}
