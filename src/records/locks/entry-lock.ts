import type { CarFacts } from '../../domain/clearance/car-happenings.ts';
import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import type { AdmissionDays, ClearanceState } from '../../domain/clearance/decide-clearance.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { RunAgain, type Tx } from '../../platform/database/db.ts';
import type { PlainTx } from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { DAYS_COLUMNS_SQL, type DaysRow, toDays } from '../what-stands.ts';

/** A car at an event as it was read under its lock, or beside it (`LockLevel`). */
export interface LockedCar {
  carId: string;
  eventId: string;
  /** changes with each `recordCarHistory` */
  facts: CarFacts;
  historySeq: number;
  historyHash: string;
}

/** An entry whose row of truth is locked until the transaction ends: nobody else changes anything of it meanwhile. */
export interface LockedEntry {
  entryId: string;
  eventId: string;
  runGroupId: string;
  runGroup: string;
  vehicleId: string;
  carNumber: string;
  /** folded names of everybody on the entry (`personKey`) */
  personKeys: readonly string[];
  /** changes with each `recordEntryHistory` */
  facts: ClearanceFacts;
  historySeq: number;
  historyHash: string;
  car: LockedCar;
  /** the event's days as they stand now */
  days: AdmissionDays;
  /** whether the track is said to be wet for its run group */
  wet: boolean;
}

/**
 * How far a lock goes. `change`: what is said of the car may change, and waits for everybody who decides about it. `decide`:
 * what is said of the car stays as it is meanwhile. `entry`: the entry alone, for what has nothing to do with the state of
 * the car; nothing about the car may be decided or written under it.
 */
export type LockLevel = 'change' | 'decide' | 'entry';

/** What a statement must read for `toEntry`: `ENTRY_COLUMNS` and `ENTRY_JOINS`. */
export interface EntryRow extends DaysRow {
  entryId: string;
  eventId: string;
  runGroupId: string;
  runGroup: string;
  vehicleId: string;
  carNumber: string;
  personKeys: string[];
  facts: ClearanceFacts;
  historySeq: number;
  historyHash: string;
  carId: string;
  carFacts: CarFacts;
  carSeq: number;
  carHash: string;
  wet: boolean;
}

/** The car of an entry as its own row has it, and the one that was locked. */
export interface Locks {
  carId: string;
  lockedCarId: string;
}

const CAR_LOCK: Record<LockLevel, Prisma.Sql> = {
  change: Prisma.sql`FOR NO KEY UPDATE`,
  decide: Prisma.sql`FOR SHARE`,
  entry: Prisma.empty,
};

/**
 * Locks an entry, its car before it. Every write to anything of an entry starts here, so writes to one entry happen one
 * after the other and none decides on what another is about to change. What goes beside the lock is read by a statement
 * of its own after it: a join would give it as it was before the wait. Undefined when there is no such entry.
 *
 * @throws RunAgain when the entry changed its car meanwhile
 */
export async function lockEntry(
  tx: Tx,
  entryId: string,
  level: LockLevel = 'decide',
): Promise<LockedEntry | undefined> {
  const rows = await tx.$queryRaw<Locks[]>(lockStatement(Prisma.sql`${entryId}::uuid`, level));
  return isLocked(rows) ? withDetails(tx, entryId) : undefined;
}

/** Locks an entry, its car before it, and reads nothing else; `entry` is an expression that gives its id. */
function lockStatement(entry: Prisma.Sql, level: LockLevel): Prisma.Sql {
  return Prisma.sql`
    WITH car AS MATERIALIZED (
      SELECT k.id FROM car_clearances k
      WHERE k.id = (SELECT car_id FROM clearances WHERE entry_id = ${entry}) ${CAR_LOCK[level]}
    )
    SELECT c.car_id AS "carId", car.id AS "lockedCarId"
    FROM clearances c CROSS JOIN car
    WHERE c.entry_id = ${entry}
    FOR UPDATE OF c`;
}

/**
 * Whether `lockStatement` found the entry.
 *
 * @throws RunAgain when the entry changed its car meanwhile
 */
function isLocked([row]: readonly Locks[]): boolean {
  if (row === undefined) return false;
  // The entry changed its car while this waited: the lock is on the wrong one, and cars come before entries.
  if (row.carId !== row.lockedCarId) throw new RunAgain('the entry changed its car');
  return true;
}

/**
 * Locks an entry and reads what decides, by a statement of its own after the lock but in one packet with it.
 *
 * @param at `entry` an expression that gives the id; `level` see `LockLevel`
 * @param read sends the statement that reads
 * @returns undefined when there is no such entry
 * @throws RunAgain when the entry changed its car meanwhile
 */
export async function lockAndRead<Row>(
  tx: PlainTx,
  at: { entry: Prisma.Sql; level: LockLevel },
  read: () => Promise<Row | undefined>,
): Promise<Row | undefined> {
  const [locks, row] = await Promise.all([tx.rows<Locks>(lockStatement(at.entry, at.level)), read()]);
  return isLocked(locks) ? row : undefined;
}

/** After the lock, the car too: where it is not locked, what was read with the lock may be from before a wait. */
async function withDetails(tx: Tx, entryId: string): Promise<LockedEntry | undefined> {
  const [row] = await readEntries(tx, [entryId]);
  return row && toEntry(row);
}

/** An entry as a statement after its lock reads it. */
export function toEntry(row: EntryRow): LockedEntry {
  return {
    entryId: row.entryId,
    eventId: row.eventId,
    runGroupId: row.runGroupId,
    runGroup: row.runGroup,
    vehicleId: row.vehicleId,
    carNumber: row.carNumber,
    personKeys: row.personKeys,
    facts: row.facts,
    historySeq: row.historySeq,
    historyHash: row.historyHash,
    car: {
      carId: row.carId,
      eventId: row.eventId,
      facts: row.carFacts,
      historySeq: row.carSeq,
      historyHash: row.carHash,
    },
    days: toDays(row),
    wet: row.wet,
  };
}

/**
 * Locks a car for a change of what is said of it, and then every entry it has, in the order of their ids. Undefined when
 * there is no such car.
 */
export async function lockCar(tx: Tx, carId: string): Promise<LockedEntry[] | undefined> {
  const cars = await tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM car_clearances WHERE id = ${carId}::uuid FOR NO KEY UPDATE`;
  if (cars.length === 0) return undefined;
  const rows = await tx.$queryRaw<{ entryId: string }[]>`
    SELECT entry_id AS "entryId" FROM clearances WHERE car_id = ${carId}::uuid ORDER BY entry_id`;
  return lockEntries(
    tx,
    rows.map(({ entryId }) => entryId),
    'change',
  );
}

/**
 * Locks several entries, all their cars before them, both in the order of ids, and reads them by a statement of its own
 * after that. Those that do not exist are left out. One car is one object in all of its entries: a change of its facts
 * shows in each.
 *
 * @throws RunAgain when an entry changed its car meanwhile
 */
export async function lockEntries(tx: Tx, entryIds: readonly string[], level: LockLevel): Promise<LockedEntry[]> {
  const ids = [...new Set(entryIds)];
  if (ids.length === 0) return [];
  const cars = await tx.$queryRaw<{ id: string }[]>`
    SELECT k.id FROM car_clearances k
    WHERE k.id IN (SELECT car_id FROM clearances WHERE entry_id = ANY (${ids}::uuid[]))
    ORDER BY k.id ${CAR_LOCK[level]}`;
  await tx.$queryRaw`
    SELECT entry_id FROM clearances WHERE entry_id = ANY (${ids}::uuid[]) ORDER BY entry_id FOR UPDATE`;
  const rows = await readEntries(tx, ids);
  const held = new Set(cars.map(({ id }) => id));
  if (rows.some((row) => !held.has(row.carId))) throw new RunAgain('an entry changed its car');
  return toEntries(rows);
}

/** All of an entry that decides about it, for a statement after its lock. */
export const ENTRY_COLUMNS = Prisma.sql`
  c.entry_id AS "entryId", c.facts, c.history_seq AS "historySeq", c.history_hash AS "historyHash", c.car_id AS "carId",
  k.facts AS "carFacts", k.history_seq AS "carSeq", k.history_hash AS "carHash", e.event_id AS "eventId",
  e.run_group_id AS "runGroupId", g.name AS "runGroup", g.wet_since IS NOT NULL AS wet, e.vehicle_id AS "vehicleId",
  e.car_number AS "carNumber", e.person_keys AS "personKeys",
  ${DAYS_COLUMNS_SQL}`;
export const ENTRY_JOINS = Prisma.sql`
  clearances c JOIN car_clearances k ON k.id = c.car_id JOIN entries e ON e.id = c.entry_id
  JOIN run_groups g ON g.id = e.run_group_id JOIN events ev ON ev.id = e.event_id JOIN venues ve ON ve.id = ev.venue_id`;

async function readEntries(tx: Tx, entryIds: readonly string[]): Promise<EntryRow[]> {
  return tx.$queryRaw<EntryRow[]>`
    SELECT ${ENTRY_COLUMNS} FROM ${ENTRY_JOINS}
    WHERE c.entry_id = ANY (${[...entryIds]}::uuid[]) ORDER BY c.entry_id`;
}

function toEntries(rows: readonly EntryRow[]): LockedEntry[] {
  const cars = new Map<string, LockedCar>();
  return rows.map((row) => {
    const entry = toEntry(row);
    const car = cars.get(row.carId) ?? entry.car;
    cars.set(row.carId, car);
    return { ...entry, car };
  });
}

/** All that decides what the gate says of a locked entry, as the locks have it. */
export function stateOf({ facts, car, runGroup, days, wet }: LockedEntry): ClearanceState {
  return { facts, car: car.facts, runGroup, days, wet };
}

/**
 * Locks an entry that is still in the event.
 *
 * @throws ProblemError `not-found`; `state-moved-on` when it was withdrawn
 */
export async function lockEntryForChange(tx: Tx, entryId: string, level?: LockLevel): Promise<LockedEntry> {
  const entry = await lockEntry(tx, entryId, level);
  if (entry === undefined) throw notFound('entry');
  if (!entry.facts.withdrawn) return entry;
  throw entryWithdrawn();
}

/**
 * Refuses what makes no sense at an event that was called off.
 *
 * @throws ProblemError `state-moved-on`
 */
export function assertTakesPlace({ days }: Pick<LockedEntry, 'days'>): void {
  if (days.cancelled === undefined) return;
  const detail = `The event was cancelled: ${days.cancelled.reason}`;
  throw new ProblemError('state-moved-on', detail, { currentState: 'cancelled' });
}

/** The refusal of whatever wants to change an entry that is out of the event. */
export function entryWithdrawn(): ProblemError {
  return new ProblemError('state-moved-on', 'The entry was withdrawn.', { currentState: 'withdrawn' });
}
