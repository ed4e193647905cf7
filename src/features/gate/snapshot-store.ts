import { type PlainDate, startOfDay, startOfNextDay } from '../../domain/calendar.ts';
import type { CarFacts } from '../../domain/clearance/car-happenings.ts';
import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import { type GateSnapshot, toGateFacts } from '../../domain/clearance/gate-snapshot.ts';
import { type Vehicle } from '../../domain/vehicle.ts';
import { rescueOf } from '../../domain/car/rescue.ts';
import type { Tx } from '../../platform/database/db.ts';

const PAGE = 100;

/** All of a list that comes from the database. */
export type SnapshotContent = Omit<GateSnapshot, 'iss' | 'asOf' | 'staleAfter'>;

export interface SnapshotEvent {
  endsOn: PlainDate;
  timeZone: string;
  content: SnapshotContent;
}

/**
 * Reads an event as its gate list; undefined when there is no such event. Call it in a transaction that sees one state
 * of the database, or the list could end at a row of the history whose effect is not in it. What is not sealed yet is in
 * it as well.
 *
 * @param withRescue what rescuers must know of each car is in it too
 */
export async function readSnapshotEvent(
  tx: Tx,
  eventId: string,
  withRescue: boolean,
): Promise<SnapshotEvent | undefined> {
  // One after the other: the client would load several relations at once, and a transaction has one connection.
  const event = await tx.event.findUnique({
    where: { id: eventId },
    select: {
      name: true,
      startsOn: true,
      endsOn: true,
      cancelledAt: true,
      cancelReason: true,
      venue: { select: { timeZone: true } },
    },
  });
  if (event === null) return undefined;
  const tree = await tx.eventTree.findUnique({ where: { eventId }, select: { size: true, root: true } });
  const runGroups = await listSnapshotGroups(tx, eventId);
  const content = {
    eventId,
    name: event.name,
    seq: tree?.size ?? 0,
    head: tree === null ? '' : Buffer.from(tree.root).toString('hex'),
    newestHold: await findNewestHold(tx, eventId),
    days: daysOf(event),
    runGroups,
    entries: await listSnapshotEntries(tx, eventId, { runGroups, withRescue }),
  };
  return { endsOn: event.endsOn.toISOString().slice(0, 10), timeZone: event.venue.timeZone, content };
}

async function listSnapshotGroups(tx: Tx, eventId: string): Promise<SnapshotContent['runGroups']> {
  const rows = await tx.runGroup.findMany({
    where: { eventId },
    select: { id: true, name: true, wetSince: true },
    orderBy: [{ sortOrder: 'asc' }, { id: 'asc' }],
  });
  return rows.map(({ id, name, wetSince }) => ({
    runGroupId: id,
    name,
    ...(wetSince === null ? {} : { wet: true as const }),
  }));
}

async function findNewestHold(tx: Tx, eventId: string): Promise<SnapshotContent['newestHold']> {
  // Entry by entry: a hold does not know its event, and a join would read those of all events.
  const [newest] = await tx.$queryRaw<{ number: number; carNumber: string; reason: string; at: Date }[]>`
    SELECT h.reason, h.placed_at AS at, e.car_number AS "carNumber",
      (SELECT sum((SELECT count(*) FROM holds n WHERE n.entry_id = o.id))::int FROM entries o WHERE o.event_id = ${eventId}::uuid)
        AS number
    FROM entries e CROSS JOIN LATERAL (
      SELECT id, reason, placed_at FROM holds WHERE entry_id = e.id ORDER BY placed_at DESC, id DESC LIMIT 1
    ) h
    WHERE e.event_id = ${eventId}::uuid ORDER BY h.placed_at DESC, h.id DESC LIMIT 1`;
  return newest === undefined ? null : { ...newest, at: newest.at.toISOString() };
}

async function listSnapshotEntries(
  tx: Tx,
  eventId: string,
  { runGroups, withRescue }: { runGroups: SnapshotContent['runGroups']; withRescue: boolean },
): Promise<SnapshotContent['entries']> {
  const rows = [];
  // Page by page, so that others have their turn between two; the transaction sees one state all the time.
  for (let after: string | undefined; ; after = rows.at(-1)?.entryId) {
    const page = await tx.clearance.findMany({
      where: { eventId, ...(after === undefined ? {} : { entryId: { gt: after } }) },
      select: {
        entryId: true,
        carNumber: true,
        facts: true,
        entry: { select: { runGroupId: true, vehicle: { select: { record: true } } } },
        car: { select: { facts: true } },
      },
      orderBy: { entryId: 'asc' },
      take: PAGE,
    });
    rows.push(...page);
    if (page.length < PAGE) break;
  }
  const groupOf = new Map(runGroups.map(({ runGroupId }, place) => [runGroupId, place]));
  return rows
    .map(({ carNumber, facts, entry, car }) => ({
      carNumber,
      // A run group of an entry is one of its event: the foreign keys say so.
      group: groupOf.get(entry.runGroupId) as number,
      ...describedCar(entry.vehicle.record as unknown as Vehicle, withRescue),
      // written by `recordEntryHistory` and `recordCarHistory` only
      facts: toGateFacts(facts as unknown as ClearanceFacts, car.facts as unknown as CarFacts),
    }))
    .sort((a, b) => compareNumbers(a.carNumber, b.carNumber) || a.group - b.group);
}

/** No names: who drives is nobody's business at the gate. */
const describedCar = (record: Vehicle, withRescue: boolean) => ({
  vehicle: record.description,
  ...(record.colour === undefined ? {} : { colour: record.colour }),
  ...(withRescue ? { rescue: rescueOf(record) } : {}),
});

interface DaysOf {
  startsOn: Date;
  endsOn: Date;
  cancelledAt: Date | null;
  cancelReason: string | null;
  venue: { timeZone: string };
}

function daysOf(event: DaysOf): SnapshotContent['days'] {
  const { timeZone } = event.venue;
  const { cancelledAt, cancelReason } = event;
  return {
    from: startOfDay(event.startsOn.toISOString().slice(0, 10), timeZone).toISOString(),
    until: startOfNextDay(event.endsOn.toISOString().slice(0, 10), timeZone).toISOString(),
    ...(cancelledAt === null ? {} : { cancelled: { at: cancelledAt.toISOString(), reason: cancelReason ?? '' } }),
  };
}

function compareNumbers(a: string, b: string): number {
  if (a === b) return 0;
  return a.length - b.length || (a < b ? -1 : 1);
}
