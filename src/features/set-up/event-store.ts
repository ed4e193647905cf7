import type { PlainDate } from '../../domain/calendar.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';
import type { EventFilters, EventInput, VenueInput, VenueView } from './event-schemas.ts';

/** When an event was called off, by whom and why. */
export interface Cancelled {
  at: Date;
  by: string;
  reason: string;
}

/** An event with the time zone of its venue; instants as `Date`, days as text. */
export interface StoredEvent {
  eventId: string;
  name: string;
  venueId: string;
  timeZone: string;
  startsOn: PlainDate;
  endsOn: PlainDate;
  declarationsOpenAt: Date;
  declarationsCloseAt: Date;
  retentionDays: number;
  lookAlikes: EventInput['lookAlikes'];
  zeroTwins: EventInput['zeroTwins'];
  instruments: EventInput['instruments'];
  /** undefined: it takes place */
  cancelled: Cancelled | undefined;
  createdAt: Date;
  rev: number;
}

interface Row {
  id: string;
  name: string;
  venueId: string;
  startsOn: Date;
  endsOn: Date;
  declarationsOpenAt: Date;
  declarationsCloseAt: Date;
  retentionDays: number;
  lookAlikes: string;
  zeroTwins: string;
  instruments: unknown;
  cancelledAt: Date | null;
  cancelledBy: string | null;
  cancelledName: string | null;
  cancelReason: string | null;
  createdAt: Date;
  rev: number;
  venue: { timeZone: string };
}

const WITH_ZONE = { venue: { select: { timeZone: true } } } as const;

// A `date` column travels as midnight UTC; only its date part means anything.
const toDay = (date: Date): PlainDate => date.toISOString().slice(0, 10);
const fromDay = (day: PlainDate): Date => new Date(`${day}T00:00:00.000Z`);

function toStored(stored: Row): StoredEvent {
  const { id, venue, startsOn, endsOn, cancelledAt, cancelledBy: _by, cancelledName, cancelReason, ...row } = stored;
  const days = { startsOn: toDay(startsOn), endsOn: toDay(endsOn) };
  // Checks of the database keep both settings; instruments are written from parsed ones only.
  const instruments = row.instruments as EventInput['instruments'];
  const lookAlikes = row.lookAlikes as EventInput['lookAlikes'];
  const zeroTwins = row.zeroTwins as EventInput['zeroTwins'];
  const cancelled =
    cancelledAt === null ? undefined : { at: cancelledAt, by: cancelledName ?? '', reason: cancelReason ?? '' };
  return { ...row, ...days, eventId: id, timeZone: venue.timeZone, lookAlikes, zeroTwins, instruments, cancelled };
}

function toData(input: EventInput) {
  return {
    name: input.name,
    venueId: input.venueId,
    startsOn: fromDay(input.startsOn),
    endsOn: fromDay(input.endsOn),
    declarationsOpenAt: new Date(input.declarationsOpenAt),
    declarationsCloseAt: new Date(input.declarationsCloseAt),
    retentionDays: input.retentionDays,
    lookAlikes: input.lookAlikes,
    zeroTwins: input.zeroTwins,
    instruments: input.instruments as Prisma.InputJsonValue,
  };
}

export async function hasVenue(db: Tx, venueId: string): Promise<boolean> {
  return (await db.venue.count({ where: { id: venueId } })) > 0;
}

export async function findZone(db: Tx, venueId: string): Promise<string | undefined> {
  return (await db.venue.findUnique({ where: { id: venueId }, select: { timeZone: true } }))?.timeZone;
}

/** Keeps the zone of a venue as it is until the transaction ends. Comes before the lock of an event. */
export async function shareVenue(tx: Tx, venueId: string): Promise<void> {
  await tx.$queryRaw`SELECT 1 FROM venues WHERE id = ${venueId}::uuid FOR SHARE`;
}

export async function insertEvent(db: Tx, input: EventInput): Promise<StoredEvent> {
  return toStored(await db.event.create({ data: toData(input), include: WITH_ZONE }));
}

export async function findEvent(db: Tx, eventId: string): Promise<StoredEvent | undefined> {
  const row = await db.event.findUnique({ where: { id: eventId }, include: WITH_ZONE });
  return row === null ? undefined : toStored(row);
}

/** Events by first day, latest first; `after` is the first day and id of the last one seen, `only` leaves out others. */
export async function listEvents(
  db: Tx,
  wanted: {
    filters?: EventFilters;
    after: readonly [PlainDate, string] | undefined;
    take: number;
    only?: readonly string[] | undefined;
  },
): Promise<StoredEvent[]> {
  const { filters = {}, after, take, only } = wanted;
  const rows = await db.event.findMany({
    where: {
      AND: [after === undefined ? {} : laterInList(after), matching(filters)],
      ...(only === undefined ? {} : { id: { in: [...only] } }),
    },
    include: WITH_ZONE,
    orderBy: [{ startsOn: 'desc' }, { id: 'desc' }],
    take,
  });
  return rows.map(toStored);
}

function matching({ from, to, venueId, changedSince }: EventFilters) {
  return {
    ...(from === undefined ? {} : { endsOn: { gte: fromDay(from) } }),
    ...(to === undefined ? {} : { startsOn: { lte: fromDay(to) } }),
    ...(venueId === undefined ? {} : { venueId }),
    ...(changedSince === undefined ? {} : { updatedAt: { gte: new Date(changedSince) } }),
  };
}

function laterInList([startsOn, id]: readonly [PlainDate, string]) {
  const day = fromDay(startsOn);
  // The first part alone finds the place in the index.
  return { startsOn: { lte: day }, OR: [{ startsOn: { lt: day } }, { id: { lt: id } }] };
}

/** Changes the event if it still has the version `rev`; undefined when it has moved on. */
export async function updateEvent(
  db: Tx,
  eventId: string,
  rev: number,
  input: EventInput,
): Promise<StoredEvent | undefined> {
  const rows = await db.event.updateManyAndReturn({
    where: { id: eventId, rev },
    data: { ...toData(input), rev: { increment: 1 } },
    include: WITH_ZONE,
  });
  return rows[0] === undefined ? undefined : toStored(rows[0]);
}

export interface StoredVenue {
  view: VenueView;
  rev: number;
}

type VenueRow = { id: string; name: string; timeZone: string; details: Prisma.JsonValue; rev: number };

function toStoredVenue(row: VenueRow): StoredVenue {
  // `details` is written by `split` only, from parsed input.
  const details = row.details as Omit<VenueInput, 'name' | 'timeZone'>;
  return { view: { venueId: row.id, name: row.name, timeZone: row.timeZone, ...details }, rev: row.rev };
}

function split({ name, timeZone, ...details }: VenueInput) {
  return { name, timeZone, details: details as Prisma.InputJsonObject };
}

export async function insertVenue(db: Tx, input: VenueInput): Promise<StoredVenue> {
  return toStoredVenue(await db.venue.create({ data: split(input) }));
}

export async function listVenues(db: Tx): Promise<StoredVenue[]> {
  return (await db.venue.findMany({ orderBy: { id: 'asc' } })).map(toStoredVenue);
}

export async function findVenue(db: Tx, venueId: string): Promise<StoredVenue | undefined> {
  const row = await db.venue.findUnique({ where: { id: venueId } });
  return row === null ? undefined : toStoredVenue(row);
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
  return rows[0] === undefined ? undefined : toStoredVenue(rows[0]);
}
