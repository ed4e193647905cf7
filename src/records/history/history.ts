import { v7 as uuidV7 } from 'uuid';
import type { Actor, SystemActor } from '../../domain/actor.ts';
import { applyCarHappening, type CarHappening } from '../../domain/clearance/car-happenings.ts';
import { applyEntryHappening, type EntryHappening } from '../../domain/clearance/clearance.ts';
import { canonicalHash, canonicalJson } from '../../platform/canonical-json.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { LockedCar, LockedEntry } from '../locks/entry-lock.ts';

/** The channel on which a committed history row announces itself; the payload is the id of its event. */
export const HISTORY_CHANNEL = 'gridworthy_history';

/** What is written into a history, in the transaction of what it tells. */
export interface HistoryEntry<Event = EntryHappening> {
  actor: Actor | SystemActor;
  /** instant at which it was decided */
  at: Date;
  /** `noun.verb`, for example `inspection.submitted` */
  action: string;
  /** what it means for the clearance; absent: nothing */
  happening?: Event;
  /** ids and facts; no names, addresses or telephone numbers */
  data?: Readonly<Record<string, unknown>>;
  requestId: string | undefined;
}

/** What a history row is about; each has a chain of its own. */
export type Subject = { entryId: string } | { carId: string } | { eventId: string };

/** The part of a history row that its hash covers, in the form in which it is hashed. */
export type ChainedRow = Subject & ChainedContent;

export interface ChainedContent {
  seq: number;
  action: string;
  actorId: string;
  actorRole: string;
  at: string;
  data: unknown;
  prevHash: string;
}

/** SHA-256 over the row and the hash before it: a changed, missing or moved row breaks the chain from there on. */
export function chainHash(row: ChainedRow): string {
  return canonicalHash(row);
}

/** What a row of an entry is written with; a locked entry fits. */
export type EntryHead = Pick<LockedEntry, 'entryId' | 'eventId' | 'facts' | 'historySeq' | 'historyHash'> & {
  car: Pick<LockedCar, 'historySeq'>;
};

/** A row that is ready to be written, with its hash. */
interface ReadyRow {
  row: ChainedRow;
  hash: string;
}

/**
 * Appends to the history of a locked entry and folds the event into what the gate answers from. `entry` is brought up
 * to date, so several can follow in one transaction. The person's name stands beside the row but not in its hash, so
 * that it can be erased later without breaking the chain. The statement announces the row to the sealer, which makes it
 * a leaf of its event's tree after the commit: nobody waits for another entry here.
 */
export async function recordEntryHistory(tx: Tx, entry: EntryHead, what: HistoryEntry): Promise<void> {
  const rows = [appendToEntry(entry, what)];
  await tx.$executeRaw`
    WITH appended AS (${historyPart(rows)}) ${entryHeadPart(entry)} RETURNING ${historyNotify(entry.eventId)}`;
}

/**
 * The same for a car that is locked for a change. Writes nothing where the event changes nothing that is said of the car;
 * returns whether it wrote.
 */
export async function recordCarHistory(
  tx: Tx,
  car: LockedCar,
  what: HistoryEntry<CarHappening> & { happening: CarHappening },
): Promise<boolean> {
  const row = appendToCar(car, what);
  if (row === undefined) return false;
  await tx.$executeRaw`
    WITH appended AS (${historyPart([row])}) ${carHeadPart(car)} RETURNING ${historyNotify(car.eventId)}`;
  return true;
}

/** What happened to one of many locked entries. */
export interface EntryWrite {
  entry: EntryHead;
  what: HistoryEntry;
}

/**
 * As `recordEntryHistory` for many, in the order given, in one statement: the locks are held for one round trip and not for one
 * per row. An entry may come several times; each is brought up to date.
 */
export async function recordEntryHistories(tx: Tx, happenings: readonly EntryWrite[]): Promise<void> {
  if (happenings.length === 0) return;
  const rows = happenings.map(({ entry, what }) => appendToEntry(entry, what));
  const entries = [...new Set(happenings.map(({ entry }) => entry))];
  const heads = entries.map((entry) => ({
    entry_id: entry.entryId,
    facts: entry.facts,
    history_seq: entry.historySeq,
    history_hash: entry.historyHash,
  }));
  await tx.$executeRaw`
    WITH appended AS (${historyPart(rows)}
    ), folded AS (
      UPDATE clearances c
      SET facts = h.facts, rev = c.rev + 1, updated_at = now(), history_seq = h.history_seq, history_hash = h.history_hash
      FROM jsonb_to_recordset(${JSON.stringify(heads)}::jsonb)
        AS h (entry_id uuid, facts jsonb, history_seq int, history_hash text)
      WHERE c.entry_id = h.entry_id
      RETURNING c.event_id
    )
    SELECT pg_notify(${HISTORY_CHANNEL}, event_id::text) FROM (SELECT DISTINCT event_id FROM folded) AS told`;
}

/** A history row as `historyPart` writes it. */
export interface HistoryRow {
  id: string;
  entry_id: string | null;
  car_id: string | null;
  seq: number;
  action: string;
  actor_id: string;
  actor_role: string;
  actor_name: string;
  at: string;
  data: unknown;
  request_id: string | null;
  prev_hash: string;
  hash: string;
  event_id: string;
}

/** History rows as a part of one write. `historyNotify` goes into its result. */
export function historyPart(rows: readonly HistoryRow[]): Prisma.Sql {
  return Prisma.sql`
    INSERT INTO history (id, entry_id, car_id, seq, action, actor_id, actor_role, actor_name, at, data, request_id,
                         prev_hash, hash, event_id)
    SELECT r.id, r.entry_id, r.car_id, r.seq, r.action, r.actor_id, r.actor_role, r.actor_name, r.at, r.data,
           r.request_id, r.prev_hash, r.hash, r.event_id
    FROM jsonb_to_recordset(${JSON.stringify(rows)}::jsonb) AS r (id uuid, entry_id uuid, car_id uuid, seq int,
      action text, actor_id uuid, actor_role text, actor_name text, at timestamptz, data jsonb, request_id text,
      prev_hash text, hash text, event_id uuid)`;
}

/** What a locked entry has come to, as a part of one write: once for all rows that were appended to it. */
export function entryHeadPart({ entryId, facts, historySeq, historyHash }: EntryHead): Prisma.Sql {
  return Prisma.sql`
    UPDATE clearances SET facts = ${JSON.stringify(facts)}::jsonb, rev = rev + 1, updated_at = now(),
      history_seq = ${historySeq}, history_hash = ${historyHash}
    WHERE entry_id = ${entryId}::uuid`;
}

/** The same for a car that is locked for a change. */
export function carHeadPart({ carId, facts, historySeq, historyHash }: LockedCar): Prisma.Sql {
  return Prisma.sql`
    UPDATE car_clearances SET facts = ${JSON.stringify(facts)}::jsonb, rev = rev + 1, updated_at = now(),
      history_seq = ${historySeq}, history_hash = ${historyHash}
    WHERE id = ${carId}::uuid`;
}

/** Announces the rows to the sealer at commit. */
export const historyNotify = (eventId: string): Prisma.Sql => Prisma.sql`pg_notify(${HISTORY_CHANNEL}, ${eventId})`;

/** The next row of a locked entry, which is brought up to date: what is left is to write both. */
export function appendToEntry(entry: EntryHead, what: HistoryEntry): HistoryRow {
  const ready = readyEntryRow(entry, what);
  if (what.happening !== undefined) entry.facts = applyEntryHappening(entry.facts, what.happening);
  entry.historySeq = ready.row.seq;
  entry.historyHash = ready.hash;
  return toHistoryRow(ready, what, { entry_id: entry.entryId, car_id: null, event_id: entry.eventId });
}

/** The same for a car that is locked for a change; undefined where nothing changes that is said of it. */
export function appendToCar(
  car: LockedCar,
  what: HistoryEntry<CarHappening> & { happening: CarHappening },
): HistoryRow | undefined {
  const facts = applyCarHappening(car.facts, what.happening);
  if (canonicalJson(plain(facts)) === canonicalJson(plain(car.facts))) return undefined;
  const ready = readyRow({ carId: car.carId }, car, what);
  car.facts = facts;
  car.historySeq = ready.row.seq;
  car.historyHash = ready.hash;
  return toHistoryRow(ready, what, { entry_id: null, car_id: car.carId, event_id: car.eventId });
}

export function toHistoryRow(
  { row, hash }: ReadyRow,
  what: HistoryEntry<unknown>,
  about: Pick<HistoryRow, 'entry_id' | 'car_id' | 'event_id'>,
): HistoryRow {
  return {
    id: uuidV7(),
    ...about,
    seq: row.seq,
    action: row.action,
    actor_id: row.actorId,
    actor_role: row.actorRole,
    actor_name: what.actor.name,
    at: row.at,
    data: row.data,
    request_id: what.requestId ?? null,
    prev_hash: row.prevHash,
    hash,
  };
}

/** The next row of an entry. It says how far the history of the car had come, which puts both into one order. */
function readyEntryRow(entry: EntryHead, what: HistoryEntry): ReadyRow {
  const { historySeq: carSeq } = entry.car;
  const data = { ...what.data, ...(carSeq === 0 ? {} : { carSeq }) };
  return readyRow({ entryId: entry.entryId }, entry, { ...what, data });
}

/** The next row of a subject whose head is locked. */
export function readyRow(
  subject: Subject,
  head: { historySeq: number; historyHash: string },
  what: HistoryEntry<unknown>,
): ReadyRow {
  const row: ChainedRow = {
    ...subject,
    seq: head.historySeq + 1,
    action: what.action,
    actorId: what.actor.tokenId,
    actorRole: what.actor.role,
    at: what.at.toISOString(),
    data: plain({ ...what.data, ...(what.happening === undefined ? {} : { event: what.happening }) }),
    prevHash: head.historyHash,
  };
  return { row, hash: chainHash(row) };
}

/** As it comes back from the database: without what is undefined. */
const plain = (value: unknown): unknown => JSON.parse(JSON.stringify(value));

/** Whether the rows, in order, form one unbroken chain that ends at `head`. Names the first row that does not. */
export function verifyChain(
  rows: readonly (ChainedRow & { hash: string })[],
  head: { seq: number; hash: string },
): { intact: boolean; brokenAt?: number } {
  let prevHash = '';
  for (const [index, { hash, ...row }] of rows.entries()) {
    if (row.seq !== index + 1 || row.prevHash !== prevHash || chainHash(row) !== hash) {
      return { intact: false, brokenAt: index + 1 };
    }
    prevHash = hash;
  }
  return rows.length === head.seq && prevHash === head.hash
    ? { intact: true }
    : { intact: false, brokenAt: rows.length + 1 };
}

/** Whether the history of a locked entry holds an action with these facts: makes a job that runs twice write once. */
export async function hasHappened(
  tx: Tx,
  entryId: string,
  action: string,
  facts: Readonly<Record<string, string>>,
): Promise<boolean> {
  const rows = await tx.$queryRaw<{ found: boolean }[]>`
    SELECT EXISTS (SELECT 1 FROM history WHERE entry_id = ${entryId}::uuid AND action = ${action}
      AND data @> ${JSON.stringify(facts)}::jsonb) AS found`;
  return rows[0]?.found === true;
}
