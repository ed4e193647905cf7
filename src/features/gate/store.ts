import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { CarHappening } from '../../domain/clearance/car-happenings.ts';
import type { EntryHappening } from '../../domain/clearance/clearance.ts';
import { WET_SWITCHED } from '../../domain/history/webhook-messages.ts';
import type { Pool, Tx } from '../../platform/database/db.ts';
import {
  DAYS_COLUMNS_SQL,
  type DaysRow,
  STATE_COLUMNS,
  STATE_JOINS,
  type StateRow,
  toClearanceState,
  toDays,
} from '../../records/what-stands.ts';
import type { ChainTimes, EntryTimeline } from './upload.ts';
import type { Contradiction, UploadedCheck } from './schemas.ts';
import type { Rescue } from '../../domain/car/rescue.ts';
import type { NumberedCar } from '../../domain/look-alikes.ts';
import { tokenColumns, type TokenRow, tokenStands } from '../../http/access/auth.ts';
import type { GateRow } from './decide.ts';

export interface CheckRow extends Omit<UploadedCheck, 'askedAt'> {
  askedAt: Date;
  contradicts: string | undefined;
}

export async function hasEvent(db: Tx, eventId: string): Promise<boolean> {
  return (await db.event.count({ where: { id: eventId } })) > 0;
}

interface TimelineRow extends DaysRow {
  carNumber: string;
  runGroupId: string;
  runGroup: string;
  steps: { at: string; event: EntryHappening | null }[];
  carSteps: { at: string; event: CarHappening | null }[];
  wetSteps: { at: string; wet: boolean }[];
}

/** What happened to every entry under these numbers, and to their cars. */
export async function listTimelines(tx: Tx, eventId: string, carNumbers: readonly string[]): Promise<EntryTimeline[]> {
  const rows = await tx.$queryRaw<TimelineRow[]>`
    SELECT e.car_number AS "carNumber", e.run_group_id::text AS "runGroupId", g.name AS "runGroup",
      ${DAYS_COLUMNS_SQL},
      (SELECT jsonb_agg(jsonb_build_object('at', h.at, 'event', h.data->'event') ORDER BY h.seq)
        FROM history h WHERE h.entry_id = e.id) AS steps,
      COALESCE((SELECT jsonb_agg(jsonb_build_object('at', h.at, 'event', h.data->'event') ORDER BY h.seq)
        FROM history h WHERE h.car_id = c.car_id), '[]'::jsonb) AS "carSteps",
      COALESCE((SELECT jsonb_agg(jsonb_build_object('at', h.at, 'wet', h.data->'wet') ORDER BY h.seq)
        FROM history h WHERE h.event_id = e.event_id AND h.entry_id IS NULL AND h.car_id IS NULL
          AND h.action = ${WET_SWITCHED} AND h.data->>'runGroupId' = e.run_group_id::text), '[]'::jsonb) AS "wetSteps"
    FROM entries e JOIN run_groups g ON g.id = e.run_group_id JOIN clearances c ON c.entry_id = e.id
      JOIN events ev ON ev.id = e.event_id JOIN venues ve ON ve.id = ev.venue_id
    WHERE e.event_id = ${eventId}::uuid AND e.car_number = ANY(${[...carNumbers]})
    ORDER BY g.sort_order, e.id`;
  return rows.map(({ carNumber, runGroupId, runGroup, steps, carSteps, wetSteps, ...days }) => ({
    carNumber,
    runGroupId,
    runGroup,
    days: toDays(days),
    steps: steps.map((step) => ({ ...step, at: new Date(step.at) })),
    carSteps: carSteps.map((step) => ({ ...step, at: new Date(step.at) })),
    wetSteps: wetSteps.map((step) => ({ ...step, at: new Date(step.at) })),
  }));
}

/** How many rows of the event's history are sealed, when those of these numbers were written, and when the device got its token. */
export async function readChainTimes(
  tx: Tx,
  { eventId, tokenId, seqs }: { eventId: string; tokenId: string; seqs: readonly number[] },
): Promise<ChainTimes> {
  const { createdAt: deviceSince } = await tx.token.findUniqueOrThrow({
    where: { id: tokenId },
    select: { createdAt: true },
  });
  const tree = await tx.eventTree.findUnique({ where: { eventId }, select: { size: true } });
  const rows = await tx.eventLeaf.findMany({
    where: { eventId, index: { in: seqs.map((seq) => seq - 1) } },
    select: { index: true, history: { select: { at: true } } },
  });
  const writtenAt = new Map(rows.map(({ index, history }) => [index + 1, history.at]));
  return { head: tree?.size ?? 0, deviceSince, writtenAt };
}

/** Keeps the checks that are not known yet; returns their client ids. */
export async function insertChecks(
  tx: Tx,
  checks: readonly CheckRow[],
  by: { eventId: string; actor: Actor; uploadedAt: Date },
): Promise<string[]> {
  // In one order, so that two uploads of the same checks wait for each other instead of deadlocking.
  const data = [...checks]
    .sort((a, b) => (a.clientId < b.clientId ? -1 : 1))
    .map((check) => ({
      id: uuidV7(),
      ...check,
      runGroupId: check.runGroupId ?? null,
      contradicts: check.contradicts ?? null,
      eventId: by.eventId,
      askedBy: by.actor.tokenId,
      askedName: by.actor.name,
      uploadedAt: by.uploadedAt,
    }));
  const rows = await tx.gateCheck.createManyAndReturn({ data, skipDuplicates: true, select: { clientId: true } });
  return rows.flatMap(({ clientId }) => clientId ?? []);
}

/** Uploaded checks that something speaks against, with their ids, which are in the order they came in. */
export async function listContradictions(
  db: Tx,
  eventId: string,
  { after, take }: { after: string | undefined; take: number },
): Promise<{ id: string; view: Contradiction }[]> {
  const rows = await db.gateCheck.findMany({
    where: { eventId, contradicts: { not: null }, ...(after === undefined ? {} : { id: { gt: after } }) },
    orderBy: { id: 'asc' },
    take,
  });
  return rows.map((row) => ({
    id: row.id,
    view: {
      // A row with `contradicts` is an uploaded one, and those have all of these: `insertChecks` writes nothing else.
      clientId: row.clientId as string,
      carNumber: row.carNumber,
      ...(row.runGroupId === null ? {} : { runGroupId: row.runGroupId }),
      askedAt: row.askedAt.toISOString(),
      askedBy: row.askedName,
      admit: row.admit,
      status: row.status as Contradiction['status'],
      snapshotSeq: row.snapshotSeq as number,
      uploadedAt: (row.uploadedAt as Date).toISOString(),
      contradicts: row.contradicts as string,
    },
  }));
}

interface LookupRow extends TokenRow, EntryColumns {
  /** which question, from 1 */
  place: number;
  /** cars whose numbers may be taken for the one asked for, and some that may not */
  near: NumberedCar[] | null;
  foundEntryId: string | null;
}

interface EntryColumns extends StateRow {
  carNumber: string;
  runGroupId: string;
  vehicle: string;
  colour: string | null;
  rescue: Rescue;
}

const ENTRY_COLUMNS = `c.entry_id AS "foundEntryId", c.car_number AS "carNumber", e.run_group_id AS "runGroupId",
  v.record->>'description' AS vehicle, v.record->>'colour' AS colour,
  jsonb_strip_nulls(jsonb_build_object('drive', v.record->'powertrain', 'gas', v.record->'gas', 'volts', v.record->'highVoltageV',
    'disconnectAt', v.record->'disconnectAt')) AS rescue, ${STATE_COLUMNS}`;
// By the index on the key; `lookAlikesOf` looks closer.
const NEAR = `SELECT jsonb_agg(jsonb_strip_nulls(jsonb_build_object('carNumber', n.car_number, 'vehicle', v.record->'description',
      'colour', v.record->'colour'))) AS near
  FROM clearances n JOIN entries e ON e.id = n.entry_id JOIN vehicles v ON v.id = e.vehicle_id
  WHERE n.event_id = a.event_id AND look_key(n.car_number) = look_key(a.car_number) AND n.car_number <> a.car_number`;
const ENTRY_JOINS = `JOIN entries e ON e.id = c.entry_id JOIN run_groups g ON g.id = e.run_group_id
  JOIN vehicles v ON v.id = e.vehicle_id ${STATE_JOINS}`;

// One statement finds out who asks and what the answer is: a marshal has seconds per car, and a revoked token or a hold
// of a moment ago must count. It does so for all who ask at the same moment.
export const LOOKUP = {
  name: 'gate-lookup',
  text: `
    SELECT a.place::int, ${tokenColumns('t', '$5')}, l.near, f.*
    FROM unnest($1::bytea[], $2::uuid[], $3::text[], $4::uuid[])
      WITH ORDINALITY AS a (hash, event_id, car_number, run_group_id, place)
    JOIN tokens t ON t.hash = a.hash AND ${tokenStands('t', '$5')}
    LEFT JOIN LATERAL (
      SELECT ${ENTRY_COLUMNS}, g.sort_order FROM clearances c ${ENTRY_JOINS}
      WHERE c.event_id = a.event_id AND c.car_number = a.car_number
        AND (a.run_group_id IS NULL OR e.run_group_id = a.run_group_id)
    ) f ON true
    CROSS JOIN LATERAL (${NEAR}) l
    ORDER BY a.place, f.sort_order, f."runGroupId"`,
};

const toGateRow = (row: EntryColumns & { foundEntryId: string | null }): GateRow[] =>
  row.foundEntryId === null
    ? []
    : [
        {
          entryId: row.foundEntryId,
          carNumber: row.carNumber,
          runGroupId: row.runGroupId,
          runGroup: row.runGroup,
          vehicle: row.vehicle,
          colour: row.colour,
          rescue: row.rescue,
          state: toClearanceState(row),
        },
      ];

export interface Question {
  tokenHash: Buffer;
  eventId: string;
  carNumber: string;
  runGroupId: string | undefined;
}

/** What one question found: who asks (undefined: the token is not valid) and the entries under exactly this number. */
export interface Found {
  token: TokenRow | undefined;
  rows: GateRow[];
  near: readonly NumberedCar[];
}

/** Finds the answers to several questions, in their order, in one round trip; `now` decides whose token has expired. */
export async function lookUpAll(pool: Pool, questions: readonly Question[], now: Date): Promise<Found[]> {
  const values = [
    questions.map(({ tokenHash }) => tokenHash),
    questions.map(({ eventId }) => eventId),
    questions.map(({ carNumber }) => carNumber),
    questions.map(({ runGroupId }) => runGroupId ?? null),
    now,
  ];
  const { rows } = await pool.query<LookupRow>({ ...LOOKUP, values });
  const found: Found[] = questions.map(() => ({ token: undefined, rows: [], near: [] }));
  for (const row of rows) {
    const one = found[row.place - 1];
    if (one === undefined) throw new Error(`there is no question ${row.place}`);
    one.token = row;
    one.near = row.near ?? [];
    one.rows.push(...toGateRow(row));
  }
  return found;
}

/** Every entry of the event by number, each made up when it is asked for; undefined when there is no such event. */
export async function listGate(pool: Pool, eventId: string): Promise<Iterable<GateRow> | undefined> {
  const { rows } = await pool.query<EntryColumns & { foundEntryId: string | null }>({
    name: 'gate-list',
    text: `
      SELECT f.* FROM events asked LEFT JOIN LATERAL (
        SELECT ${ENTRY_COLUMNS}, g.sort_order FROM clearances c ${ENTRY_JOINS}
        WHERE c.event_id = asked.id AND e.event_id = asked.id AND k.event_id = asked.id
      ) f ON true
      WHERE asked.id = $1
      ORDER BY length(f."carNumber"), f."carNumber" COLLATE "C", f.sort_order, f."runGroupId"`,
    values: [eventId],
  });
  return rows.length === 0 ? undefined : toGateRows(rows);
}

function* toGateRows(rows: readonly Parameters<typeof toGateRow>[0][]): Generator<GateRow> {
  for (const row of rows) yield* toGateRow(row);
}

/** The numbers of an event, for suggestions; undefined when there is no such event. */
export async function listNumbers(pool: Pool, eventId: string): Promise<string[] | undefined> {
  const { rows } = await pool.query<{ carNumber: string | null }>({
    name: 'gate-numbers',
    text: 'SELECT c.car_number AS "carNumber" FROM events ev LEFT JOIN clearances c ON c.event_id = ev.id WHERE ev.id = $1',
    values: [eventId],
  });
  return rows.length === 0 ? undefined : rows.flatMap((row) => row.carNumber ?? []);
}

/**
 * Events that still have lookups whose time is over at `now`, by the days at their venue; `all` where also those that
 * something speaks against must go.
 */
export async function listEventsWithOldChecks(
  pool: Pool,
  now: Date,
  keptDays: number,
): Promise<{ eventId: string; all: boolean }[]> {
  const { rows } = await pool.query<{ eventId: string; all: boolean }>(
    `SELECT o.id AS "eventId", o.over > o.retention_days AS "all"
     FROM (
       SELECT v.id, v.retention_days, ($1::timestamptz AT TIME ZONE p.time_zone)::date - v.ends_on AS over
       FROM events v JOIN venues p ON p.id = v.venue_id
     ) o
     WHERE o.over > least($2::int, o.retention_days) AND EXISTS (
       SELECT FROM gate_checks c WHERE c.event_id = o.id AND (o.over > o.retention_days OR c.contradicts IS NULL)
     )`,
    [now, keptDays],
  );
  return rows;
}
