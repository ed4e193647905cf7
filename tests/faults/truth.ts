import type pg from 'pg';

/** A row about a car stands with the entry where it happened; each car of these runs has one. */
export interface HistoryRow {
  entry_id: string;
  /** set when the row is about the car: it belongs to the car's own chain */
  car_id: string | null;
  seq: number;
  action: string;
  actor_id: string;
  actor_role: string;
  at: string;
  data: Record<string, unknown>;
  prev_hash: string;
  hash: string;
}

export interface OutboxRow {
  id: string;
  name: string;
  payload: Record<string, string>;
  /** whether it should have run when the work ended */
  due: boolean;
  done: boolean;
}

/** What is in the database when everybody has gone home. */
export interface Truth {
  /** when it was read, on the clock of the harness: nothing of it happened later */
  readAt: number;
  history: HistoryRow[];
  /** of the chain of each entry and car, by its id */
  heads: { subject: string; seq: number; hash: string }[];
  inspections: { id: string; entry_id: string; revision: number }[];
  signOffs: { id: string; claim_id: string; decision: string }[];
  holds: { id: string; reason: string; lift_reason: string | null }[];
  /** Idempotency-Key and the body that it was answered with */
  keys: { key: string; body: Record<string, unknown> | null }[];
  outbox: OutboxRow[];
  notifications: string[];
  /** numbers of all entries, as often as they are there */
  carNumbers: string[];
  /** of the trees, each event's in the order of its leaves */
  leaves: { event_id: string; index: number; history_id: string; hash: string }[];
  trees: { event_id: string; size: number; root: string }[];
  /** every row of the history, whatever it is about */
  toSeal: { id: string; event_id: string; subject: string; seq: number; hash: string }[];
  /** one text for each lookup in the log: number, instant, answer */
  gateChecks: Map<string, number>;
}

export const gateCheckText = (carNumber: string, asOf: string, admit: boolean) => `${carNumber} ${asOf} ${admit}`;

/**
 * Reads all that the checker compares with; an instant is read in the form in which it is hashed.
 *
 * @param workEnded instant by the database clock: what the outbox planned for later need not have run
 */
export async function readTruth(client: pg.Client, workEnded: string): Promise<Truth> {
  const read = async <T extends object>(sql: string, values: unknown[] = []) =>
    (await client.query<T>(sql, values)).rows;
  const instant = (column: string) => `to_char(${column} AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"')`;
  const checks = await read<{ car_number: string; as_of: string; admit: boolean }>(
    `SELECT car_number, ${instant('asked_at')} AS as_of, admit FROM gate_checks`,
  );
  const gateChecks = new Map<string, number>();
  for (const { car_number: carNumber, as_of: asOf, admit } of checks) {
    const text = gateCheckText(carNumber, asOf, admit);
    gateChecks.set(text, (gateChecks.get(text) ?? 0) + 1);
  }
  const rows = {
    history: await read<HistoryRow>(
      `SELECT COALESCE(h.entry_id, c.entry_id) AS entry_id, h.car_id, h.seq, h.action, h.actor_id, h.actor_role,
           ${instant('h.at')} AS at, h.data, h.prev_hash, h.hash
         FROM history h LEFT JOIN clearances c ON c.car_id = h.car_id
         WHERE h.entry_id IS NOT NULL OR h.car_id IS NOT NULL
         ORDER BY 1, CASE WHEN h.car_id IS NULL THEN COALESCE((h.data->>'carSeq')::int, 0) ELSE h.seq END,
           h.car_id IS NULL, h.seq`,
    ),
    heads: await read<Truth['heads'][number]>(
      `SELECT entry_id AS subject, history_seq AS seq, history_hash AS hash FROM clearances
         UNION ALL SELECT id, history_seq, history_hash FROM car_clearances WHERE history_seq > 0`,
    ),
    inspections: await read<Truth['inspections'][number]>(
      `SELECT id, entry_id, revision FROM inspections ORDER BY entry_id, revision`,
    ),
    signOffs: await read<Truth['signOffs'][number]>(`SELECT id, claim_id, decision FROM sign_offs`),
    holds: await read<Truth['holds'][number]>(`SELECT id, reason, lift_reason FROM holds`),
    keys: await read<Truth['keys'][number]>(`SELECT key, body FROM idempotency`),
    outbox: await read<OutboxRow>(
      `SELECT id, name, payload, run_at IS NULL OR run_at <= $1 AS due, done_at IS NOT NULL AS done FROM outbox`,
      [workEnded],
    ),
    carNumbers: (await read<{ car_number: string }>('SELECT car_number FROM entries')).map((row) => row.car_number),
    leaves: await read<Truth['leaves'][number]>(
      `SELECT event_id, index, history_id, encode(leaf_hash, 'hex') AS hash FROM event_leaves ORDER BY event_id, index`,
    ),
    trees: await read<Truth['trees'][number]>(`SELECT event_id, size, encode(root, 'hex') AS root FROM event_trees`),
    toSeal: await read<Truth['toSeal'][number]>(
      `SELECT id, event_id, COALESCE(entry_id, car_id, event_id) AS subject, seq, hash FROM history`,
    ),
    notifications: (await read<{ key: string }>(`SELECT dedupe_key AS key FROM notifications`)).map(({ key }) => key),
    gateChecks,
  };
  return { ...rows, readAt: performance.now() };
}
