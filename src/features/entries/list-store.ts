import { openBreather } from '../../platform/clock.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { EntryFilters } from './schemas.ts';
import { ENTRY_SELECT, type EntryRow, type StoredEntry, toStored } from './store.ts';

/** The event at each table, so that each is read by its own index on it. */
const ofEvent = (eventId: string) =>
  Prisma.sql`e.event_id = ${eventId}::uuid AND c.event_id = ${eventId}::uuid AND k.event_id = ${eventId}::uuid`;

/** What a clearance says is decided row by row, so that many are read to find those that say one thing. */
const ROWS_AT_A_TIME = 200;

type Wanted = Omit<EntryFilters, 'cursor'> & { eventId: string; after?: string | undefined };

/** A page of an event's entries in the order in which they were made, one more than `limit` if there are more. */
export async function listEntries(db: Tx, wanted: Wanted, now: Date): Promise<StoredEntry[]> {
  const { status, limit } = wanted;
  const take = status === undefined ? limit + 1 : ROWS_AT_A_TIME;
  const found: StoredEntry[] = [];
  let { after } = wanted;
  for (;;) {
    const rows = await readRows(db, { ...wanted, after }, take);
    const entries = rows.map((row) => toStored(row, now));
    found.push(...entries.filter(({ view }) => status === undefined || view.clearance.status === status));
    after = rows.at(-1)?.entryId;
    if (rows.length < take || found.length > limit) return found.slice(0, limit + 1);
  }
}

async function readRows(db: Tx, wanted: Wanted, take: number): Promise<EntryRow[]> {
  const { carNumber, runGroupId, vehicleId, personId, changedSince, after } = wanted;
  const where = [
    ofEvent(wanted.eventId),
    ...(carNumber === undefined ? [] : [Prisma.sql`e.car_number = ${carNumber}`]),
    ...(runGroupId === undefined ? [] : [Prisma.sql`e.run_group_id = ${runGroupId}::uuid`]),
    ...(vehicleId === undefined ? [] : [Prisma.sql`e.vehicle_id = ${vehicleId}::uuid`]),
    ...(personId === undefined ? [] : [Prisma.sql`e.person_ids @> ARRAY[${personId}]`]),
    ...(changedSince === undefined
      ? []
      : [Prisma.sql`greatest(c.updated_at, k.updated_at) >= ${changedSince}::timestamptz`]),
    ...(after === undefined ? [] : [Prisma.sql`e.id > ${after}::uuid`]),
  ];
  return db.$queryRaw<EntryRow[]>`
    ${ENTRY_SELECT} WHERE ${Prisma.join(where, ' AND ')} ORDER BY e.id LIMIT ${take}`;
}

/** Every entry of an event, in the order of its run groups, then by number, short ones first. */
export async function listAllEntries(db: Tx, eventId: string, now: Date): Promise<StoredEntry[]> {
  const rows = await db.$queryRaw<EntryRow[]>`
    ${ENTRY_SELECT} WHERE ${ofEvent(eventId)}
    ORDER BY g.sort_order, g.name, length(e.car_number), e.car_number`;
  const breathe = openBreather();
  const entries: StoredEntry[] = [];
  for (const row of rows) {
    entries.push(toStored(row, now));
    await breathe();
  }
  return entries;
}
