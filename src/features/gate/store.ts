import type { ClearanceFacts } from '../../domain/clearance.ts';
import type { TokenRow } from '../../http/auth.ts';
import type { Pool } from '../../platform/db.ts';
import type { GateRow } from './decide.ts';

interface LookupRow extends TokenRow, EntryColumns {
  clearance_entry_id: string | null;
}

interface EntryColumns {
  car_number: string;
  run_group_id: string;
  run_group: string;
  vehicle: string;
  colour: string | null;
  facts: ClearanceFacts;
}

const ENTRY_COLUMNS = `c.entry_id AS clearance_entry_id, c.car_number, e.run_group_id, g.name AS run_group,
  v.record->>'description' AS vehicle, v.record->>'colour' AS colour, c.facts`;
const ENTRY_JOINS = `JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id
  JOIN vehicles v ON v.id = e.vehicle_id`;

// One statement finds out who asks and what the answer is: a marshal has seconds per car, and a revoked token or a hold
// of a moment ago must count.
const LOOKUP = {
  name: 'gate-lookup',
  text: `
    SELECT t.id, t.role, t.holder, t.entry_id, f.*
    FROM tokens t LEFT JOIN LATERAL (
      SELECT ${ENTRY_COLUMNS} FROM clearances c ${ENTRY_JOINS}
      WHERE c.event_id = $2 AND c.car_number = $3 AND ($4::uuid IS NULL OR e.run_group_id = $4)
      ORDER BY g.sort_order, g.id
    ) f ON true
    WHERE t.hash = $1 AND t.revoked_at IS NULL`,
};

const toGateRow = (row: EntryColumns & { clearance_entry_id: string | null }): GateRow[] =>
  row.clearance_entry_id === null
    ? []
    : [
        {
          entryId: row.clearance_entry_id,
          carNumber: row.car_number,
          runGroupId: row.run_group_id,
          runGroup: row.run_group,
          vehicle: row.vehicle,
          colour: row.colour,
          facts: row.facts,
        },
      ];

/** Who asks (undefined: the token is not valid) and the entries under exactly this number, in one round trip. */
export async function lookUp(
  pool: Pool,
  asked: { tokenHash: Buffer; eventId: string; carNumber: string; runGroupId: string | undefined },
): Promise<{ token: TokenRow | undefined; rows: GateRow[] }> {
  const values = [asked.tokenHash, asked.eventId, asked.carNumber, asked.runGroupId ?? null];
  const { rows } = await pool.query<LookupRow>({ ...LOOKUP, values });
  return { token: rows[0], rows: rows.flatMap(toGateRow) };
}

/** Every entry of the event by number; undefined when there is no such event. */
export async function listGate(pool: Pool, eventId: string): Promise<GateRow[] | undefined> {
  const { rows } = await pool.query<EntryColumns & { clearance_entry_id: string | null }>({
    name: 'gate-list',
    text: `
      SELECT f.* FROM events ev LEFT JOIN LATERAL (
        SELECT ${ENTRY_COLUMNS}, g.sort_order FROM clearances c ${ENTRY_JOINS} WHERE c.event_id = ev.id
      ) f ON true
      WHERE ev.id = $1
      ORDER BY length(f.car_number), f.car_number COLLATE "C", f.sort_order, f.run_group_id`,
    values: [eventId],
  });
  return rows.length === 0 ? undefined : rows.flatMap(toGateRow);
}

/** The numbers of an event, for suggestions; undefined when there is no such event. */
export async function listNumbers(pool: Pool, eventId: string): Promise<string[] | undefined> {
  const { rows } = await pool.query<{ car_number: string | null }>({
    name: 'gate-numbers',
    text: 'SELECT c.car_number FROM events ev LEFT JOIN clearances c ON c.event_id = ev.id WHERE ev.id = $1',
    values: [eventId],
  });
  return rows.length === 0 ? undefined : rows.flatMap((row) => row.car_number ?? []);
}
