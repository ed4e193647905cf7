import type { ClearanceFacts } from '../domain/clearance.ts';
import type { Tx } from '../platform/db.ts';

/** An entry whose row of truth is locked until the transaction ends: nobody else changes anything of it meanwhile. */
export interface LockedEntry {
  entryId: string;
  eventId: string;
  runGroupId: string;
  vehicleId: string;
  carNumber: string;
  /** folded names of everybody on the entry (`personKey`) */
  personKeys: readonly string[];
  /** changes with each `recordEvent` */
  facts: ClearanceFacts;
  historySeq: number;
  historyHash: string;
}

interface Row {
  entry_id: string;
  event_id: string;
  run_group_id: string;
  vehicle_id: string;
  car_number: string;
  person_keys: string[];
  facts: ClearanceFacts;
  history_seq: number;
  history_hash: string;
}

/**
 * Locks an entry. Every write to anything of an entry starts here, so writes to one entry happen one after the other
 * and none decides on what another is about to change. Undefined when there is no such entry.
 */
export async function lockEntry(tx: Tx, entryId: string): Promise<LockedEntry | undefined> {
  const rows = await tx.$queryRaw<Row[]>`
    SELECT c.entry_id, e.event_id, e.run_group_id, e.vehicle_id, e.car_number, e.person_keys,
           c.facts, c.history_seq, c.history_hash
    FROM clearances c JOIN entries e ON e.id = c.entry_id
    WHERE c.entry_id = ${entryId}::uuid
    FOR UPDATE OF c`;
  const row = rows[0];
  if (row === undefined) return undefined;
  return {
    entryId: row.entry_id,
    eventId: row.event_id,
    runGroupId: row.run_group_id,
    vehicleId: row.vehicle_id,
    carNumber: row.car_number,
    personKeys: row.person_keys,
    facts: row.facts,
    historySeq: row.history_seq,
    historyHash: row.history_hash,
  };
}
