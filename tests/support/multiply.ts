import pg from 'pg';

/** How often an event is copied, and how many copies become one event together. */
export interface Multiplied {
  copies: number;
  /** at most 26: each gets a letter of its own before its car numbers */
  perEvent: number;
  /** number of the first copy: those of an earlier call come before it. A multiple of `perEvent` */
  from: number;
  /** with what is wide and read by nobody but its own event, which is left empty otherwise */
  whole?: boolean;
}

interface Copied extends Multiplied {
  eventId: string;
}

/** First and last copy. */
type Range = readonly [number, number];

/** Tables whose rows are an event's, with the rows of event `$1`; each is copied with all its columns. */
const TABLES: Readonly<Record<string, string>> = {
  events: 'id = $1',
  run_groups: 'event_id = $1',
  vehicles: 'id IN (SELECT vehicle_id FROM entries WHERE event_id = $1)',
  entries: 'event_id = $1',
  car_clearances: 'event_id = $1',
  clearances: 'event_id = $1',
  drafts: 'entry_id IN (SELECT id FROM entries WHERE event_id = $1)',
  inspections: 'entry_id IN (SELECT id FROM entries WHERE event_id = $1)',
  tickets: 'event_id = $1',
  claims: 'ticket_id IN (SELECT id FROM tickets WHERE event_id = $1)',
  sign_offs: 'event_id = $1',
  conditions: 'entry_id IN (SELECT id FROM entries WHERE event_id = $1)',
  holds: 'entry_id IN (SELECT id FROM entries WHERE event_id = $1)',
  concessions: 'entry_id IN (SELECT id FROM entries WHERE event_id = $1)',
  session_log: 'entry_id IN (SELECT id FROM entries WHERE event_id = $1)',
  photos: 'entry_id IN (SELECT id FROM entries WHERE event_id = $1)',
  history: 'event_id = $1',
  event_leaves: 'event_id = $1',
  event_trees: 'event_id = $1',
  event_heads: 'event_id = $1',
  gate_checks: 'event_id = $1',
  tokens: `entry_id IN (SELECT id FROM entries WHERE event_id = $1)
    OR id IN (SELECT token_id FROM token_events WHERE event_id = $1)`,
  token_events: 'event_id = $1',
  tasks: 'subject_id = $1',
  notifications: 'entry_id IN (SELECT id FROM entries WHERE event_id = $1)',
  idempotency: `principal IN (SELECT id FROM tokens WHERE entry_id IN (SELECT id FROM entries WHERE event_id = $1))`,
  // One webhook has the deliveries of all copies: those are left out here.
  webhook_deliveries: `strpos(message_id, ':') = 0 AND webhook_id IN (SELECT id FROM webhooks WHERE event_id = $1)`,
  webhook_attempts: `delivery_id IN (SELECT d.id FROM webhook_deliveries d JOIN webhooks w ON w.id = d.webhook_id
    WHERE w.event_id = $1 AND strpos(d.message_id, ':') = 0)`,
};

/** Tables that grow with the events and their cars; all else is a handful of rows, or is emptied as it fills. */
export const GROWING: readonly string[] = [...Object.keys(TABLES), 'outbox'];

/** Of these the copies that become one event have one row together. */
const ONCE = new Set(['events', 'run_groups', 'event_trees', 'event_heads']);
/** Ids that are those of the event itself, or of something that it has once. */
const OF_EVENT = new Set(['event_id', 'run_group_id']);
/** Ids of what is copied. Whoever wrote a row (`created_by`) and the rules stay the same. */
const COPIED = new Set([
  'entry_id',
  'vehicle_id',
  'car_id',
  'inspection_id',
  'ticket_id',
  'claim_id',
  'sign_off_id',
  'history_id',
  'token_id',
  'delivery_id',
  'subject_id',
  'client_id',
]);
/** What is unique, or told apart by, in another way than by an id. `k` is the copy, `$2` the copies of an event. */
const CHANGED: Readonly<Record<string, string>> = {
  'tokens.hash': `sha256(t.hash || k::text::bytea)`,
  'notifications.dedupe_key': `t.dedupe_key || ':' || k`,
  'webhook_deliveries.message_id': `t.message_id || ':' || k`,
  'idempotency.key': `t.key || ':' || k`,
  'sign_offs.sticker_key': `t.sticker_key || '/' || k`,
  'sign_offs.sticker_number': `t.sticker_number || '/' || k`,
  // Those about the event itself are one chain for all copies that become one event.
  'history.seq': `t.seq + CASE WHEN t.entry_id IS NULL AND t.car_id IS NULL THEN k % $2::int * 1000 ELSE 0 END`,
  'event_leaves.index': `t.index + k % $2::int * (SELECT size FROM event_trees WHERE event_id = $1)`,
  // Other events were before, on different days, but so that the keeper finds nothing of theirs whose time is over.
  'events.starts_on': `t.starts_on - (k / $2::int % 20 + 7)`,
  'events.ends_on': `t.ends_on - (k / $2::int % 20 + 7)`,
  'entries.person_keys': `ARRAY(SELECT one || ' ' || k FROM unnest(t.person_keys) AS one)`,
};
/** What no statement about another event reads would only fill the disk. */
const EMPTIED: Readonly<Record<string, string>> = {
  'inspections.answers': `'{}'::jsonb`,
  'inspections.findings': `'[]'::jsonb`,
  'sign_offs.findings': `'[]'::jsonb`,
  'idempotency.body': `'{}'::jsonb`,
  'drafts.answers': `'{}'::jsonb`,
};
/** A car number has at most four letters and digits, so the copies of one event differ by the first. */
const NUMBER = `chr(65 + (ascii(t.car_number) - 65 + k % $2::int) % 26) || substr(t.car_number, 2)`;

function valueOf(table: string, column: string, type: string, whole: boolean): string {
  const place = `${table}.${column}`;
  const changed = CHANGED[place] ?? (whole ? undefined : EMPTIED[place]);
  if (changed !== undefined) return changed;
  if (column === 'car_number') return NUMBER;
  if (type !== 'uuid') return `t."${column}"`;
  const isOfEvent = OF_EVENT.has(column) || (column === 'id' && ONCE.has(table));
  if (isOfEvent) return `copied_id(t."${column}", k - k % $2::int)`;
  const isCopied = column === 'id' || COPIED.has(column) || place === 'idempotency.principal';
  return isCopied ? `copied_id(t."${column}", k)` : `t."${column}"`;
}

// Another time in the same id: ids of one copy stay in their order, and lie together, as those of an event do.
const COPIED_ID = `CREATE OR REPLACE FUNCTION copied_id(id uuid, copy int) RETURNS uuid LANGUAGE sql IMMUTABLE RETURN (
  lpad(to_hex((('x' || substr(replace(id::text, '-', ''), 1, 12))::bit(48)::bigint - copy * 600000::bigint)
    & 281474976710655), 12, '0') || substr(replace(id::text, '-', ''), 13))::uuid`;

async function copyTable(client: pg.Client, table: string, { eventId, perEvent, whole = false }: Copied, range: Range) {
  const { rows: columns } = await client.query<{ name: string; type: string }>(
    `SELECT attname AS name, format_type(atttypid, NULL) AS type FROM pg_attribute
     WHERE attrelid = $1::regclass AND attnum > 0 AND NOT attisdropped AND attgenerated = ''`,
    [table],
  );
  const names = columns.map(({ name }) => `"${name}"`).join(', ');
  const values = columns.map(({ name, type }) => valueOf(table, name, type, whole)).join(', ');
  await client.query(
    `INSERT INTO ${table} (${names})
      SELECT ${values} FROM (SELECT * FROM ${table} WHERE ${TABLES[table]}) t
        CROSS JOIN generate_series($3::int, $4::int) AS k WHERE ${ONCE.has(table) ? 'k % $2::int = 0' : '$2::int > 0'}`,
    [eventId, perEvent, ...range],
  );
}

// Jobs that are done name no event: one for each car.
const OUTBOX = `INSERT INTO outbox (id, name, payload, created_at, published_at, done_at)
  SELECT copied_id(e.id, k), 'webhook.fan-out', '{}', now() - interval '1 hour', now() - interval '1 hour', now()
  FROM entries e CROSS JOIN generate_series($2::int, $3::int) AS k WHERE e.event_id = $1`;

/** Copies that one transaction makes. */
const STEP = 260;

/**
 * Fills a database with copies of an event that was made through the API, with its entries and all that belongs to them,
 * in the database itself. Everything of the event must be sealed. Triggers and foreign keys are not asked.
 *
 * @param url of a user who may do that
 */
export async function multiplyEvent(url: string, copied: Copied): Promise<void> {
  const { eventId, copies, from } = copied;
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    await client.query('SET session_replication_role = replica');
    await client.query('SET synchronous_commit = off');
    await client.query(COPIED_ID);
    for (let first = from; first < from + copies; first += STEP) {
      const range: Range = [first, Math.min(first + STEP, from + copies) - 1];
      for (const table of Object.keys(TABLES)) await copyTable(client, table, copied, range);
      await client.query(OUTBOX, [eventId, ...range]);
    }
    await client.query('VACUUM (ANALYZE)');
  } finally {
    await client.end();
  }
}
