import type { PlainDate } from '../../domain/calendar.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';
import type { VenueInput, VenueView } from './event-schemas.ts';

export interface StoredVenue {
  view: VenueView;
  rev: number;
}

type Row = { id: string; name: string; timeZone: string; details: Prisma.JsonValue; rev: number };

function toStored(row: Row): StoredVenue {
  // `details` is written by `split` only, from parsed input.
  const details = row.details as Omit<VenueInput, 'name' | 'timeZone'>;
  return { view: { venueId: row.id, name: row.name, timeZone: row.timeZone, ...details }, rev: row.rev };
}

function split({ name, timeZone, ...details }: VenueInput) {
  return { name, timeZone, details: details as Prisma.InputJsonObject };
}

export async function insertVenue(db: Tx, input: VenueInput): Promise<StoredVenue> {
  return toStored(await db.venue.create({ data: split(input) }));
}

export async function listVenues(db: Tx): Promise<StoredVenue[]> {
  return (await db.venue.findMany({ orderBy: { id: 'asc' } })).map(toStored);
}

export async function findVenue(db: Tx, venueId: string): Promise<StoredVenue | undefined> {
  const row = await db.venue.findUnique({ where: { id: venueId } });
  return row === null ? undefined : toStored(row);
}

/** Locks a venue for a change of itself, until the transaction ends; comes before the locks of its events. */
export async function lockVenue(tx: Tx, venueId: string): Promise<boolean> {
  const rows = await tx.$queryRaw<unknown[]>`SELECT 1 FROM venues WHERE id = ${venueId}::uuid FOR NO KEY UPDATE`;
  return rows.length > 0;
}

/** The events at a venue, by id. */
export async function listEventIds(db: Tx, venueId: string): Promise<string[]> {
  const rows = await db.event.findMany({ where: { venueId }, select: { id: true }, orderBy: { id: 'asc' } });
  return rows.map(({ id }) => id);
}

export async function listEventsAt(
  db: Tx,
  venueId: string,
): Promise<{ eventId: string; name: string; startsOn: PlainDate; endsOn: PlainDate }[]> {
  const select = { id: true, name: true, startsOn: true, endsOn: true };
  const rows = await db.event.findMany({ where: { venueId }, select, orderBy: { id: 'asc' } });
  // A `date` column travels as midnight UTC; only its date part means anything.
  const toDay = (date: Date): PlainDate => date.toISOString().slice(0, 10);
  return rows.map(({ id, name, startsOn, endsOn }) => ({
    eventId: id,
    name,
    startsOn: toDay(startsOn),
    endsOn: toDay(endsOn),
  }));
}

/** Replaces the venue if it still has the version `rev`; undefined when it has moved on. */
export async function updateVenue(
  db: Tx,
  venueId: string,
  rev: number,
  input: VenueInput,
): Promise<StoredVenue | undefined> {
  const rows = await db.venue.updateManyAndReturn({
    where: { id: venueId, rev },
    data: { ...split(input), rev: { increment: 1 } },
  });
  return rows[0] === undefined ? undefined : toStored(rows[0]);
}
