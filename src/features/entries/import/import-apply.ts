import { plainDateAt } from '../../../domain/calendar.ts';
import { NOTHING_YET } from '../../../domain/clearance/clearance.ts';
import type { Tx } from '../../../platform/database/db.ts';
import { givenBy, judgedOnChange } from '../../../records/car-facts.ts';
import { followPeople, hasDriverHolds, lockPeople } from '../../../records/locks/driver-holds.ts';
import { type LockedEntry, lockEntries } from '../../../records/locks/entry-lock.ts';
import { type EntryHead, type EntryWrite, recordEntryHistories } from '../../../records/history/history.ts';
import { notifyEntrant } from '../../../records/notify-entrant.ts';
import { closeTicket } from '../../../records/tickets.ts';
import {
  type ImportedCar,
  insertEntries,
  insertVehicles,
  type Known,
  listEntriesOfVehicles,
  lockCarNumbers,
  lockCars,
  readMark,
  updateEntries,
  updateVehicles,
} from './import-store.ts';
import type { ImportJob } from './import.ts';
import type { Step } from './import-row.ts';
import { personIdsOf } from '../schemas.ts';

/** The event is not as it was when the rows were planned; nothing was written. */
export class Moved extends Error {}

type Enter = Extract<Step, { act: 'enter' }>;
type Change = Extract<Step, { act: 'change' }>;
type Named = Parameters<typeof personIdsOf>[0];

/**
 * Writes planned rows in the caller's transaction, many rows by each statement. Locks come first, numbers before entries,
 * entries in the order of their ids; then it is looked whether the event is as it was planned for.
 *
 * @param known what the rows were planned for
 * @throws Moved
 */
export async function applySteps(tx: Tx, job: ImportJob, known: Known, steps: readonly Step[]): Promise<void> {
  const enters = steps.filter((step): step is Enter => step.act === 'enter');
  const changes = steps.filter((step): step is Change => step.act === 'change');
  await lockCarNumbers(
    tx,
    job.eventId,
    enters.map(({ entry }) => entry.carNumber),
  );
  const cars = changes.flatMap(({ vehicleId, vehicle }) =>
    vehicle === undefined ? [] : [{ vehicleId, record: vehicle }],
  );
  const changedCars = new Set(cars.map(({ vehicleId }) => vehicleId));
  // The day where it begins last: an event is over when its last day has ended at its venue.
  const sharing = await listEntriesOfVehicles(tx, [...changedCars], plainDateAt(job.now, 'Etc/GMT+12'));
  const given = givenBy({ actor: job.actor, at: job.now });
  await insertVehicles(
    tx,
    enters.flatMap(({ vehicleId, newCar }) => (newCar === undefined ? [] : [{ vehicleId, record: newCar }])),
    given,
  );
  await lockPeople(tx, job.eventId, [...enters.map(({ entry }) => entry), ...changes].flatMap(personIdsOf), 'share');
  const touched = [...changes.map(({ entryId }) => entryId), ...sharing];
  const entered = await lockCars(
    tx,
    job.eventId,
    enters.map(({ vehicleId }) => vehicleId),
    touched,
  );
  const locked = await lockEntries(tx, touched, 'change');
  await assertUnmoved(tx, job, known);
  await insertEntries(tx, { eventId: job.eventId, createdBy: job.actor.tokenId }, enters);
  await updateEntries(tx, changes);
  await updateVehicles(tx, cars, given);
  const now = new Map(cars.map(({ vehicleId, record }) => [vehicleId, record]));
  const voided = await judgedOnChange(tx, locked, { now, at: job.now });
  await notifyAll(tx, job, { enters, changes, locked, voided, entered });
}

async function notifyAll(
  tx: Tx,
  job: ImportJob,
  what: {
    enters: readonly Enter[];
    changes: readonly Change[];
    locked: LockedEntry[];
    voided: LockedEntry[];
    entered: readonly ImportedCar[];
  },
): Promise<void> {
  const { actor, now: at, requestId } = job;
  const context = { actor, at, requestId };
  const lockedById = new Map(what.locked.map((entry) => [entry.entryId, entry]));
  const carOf = new Map(what.entered.map(({ vehicleId, historySeq }) => [vehicleId, historySeq]));
  const made: { entry: EntryHead; named: Named }[] = [];
  const created = what.enters.map((step): EntryWrite => {
    const { carNumber, runGroupId } = step.entry;
    const data = { carNumber, runGroupId, vehicleId: step.vehicleId };
    const entry = asLocked(job.eventId, step, carOf.get(step.vehicleId) ?? 0);
    made.push({ entry, named: step.entry });
    return { entry, what: { ...context, action: 'entry.created', data } };
  });
  const updated = what.changes.flatMap(({ entryId, changed, ...named }): EntryWrite[] => {
    const entry = lockedById.get(entryId);
    if (entry === undefined) return [];
    made.push({ entry, named });
    return [{ entry, what: { ...context, action: 'entry.updated', data: { changed } } }];
  });
  const declarations = what.voided.map((entry) => ({ entry, inspectionId: entry.facts.declared?.inspectionId ?? '' }));
  const event = { type: 'declaration-voided', reason: 'the record of the car changed' } as const;
  const voided = what.voided.map(
    (entry): EntryWrite => ({ entry, what: { ...context, action: 'declaration.voided', happening: event } }),
  );
  await recordEntryHistories(tx, [...created, ...updated, ...voided]);
  if (await hasDriverHolds(tx, job.eventId))
    for (const { entry, named } of made) await followPeople(tx, entry, personIdsOf(named), context);
  for (const { entry, inspectionId } of declarations) {
    await closeTicket(tx, entry, 'void', at);
    await notifyEntrant(tx, { entryId: entry.entryId, kind: 'declaration.voided', id: inspectionId, requestId });
  }
}

/** A new entry as its own transaction has it: nobody else sees it before the commit. */
function asLocked(eventId: string, { entryId }: Enter, carSeq: number): EntryHead {
  return {
    entryId,
    eventId,
    facts: NOTHING_YET,
    historySeq: 0,
    historyHash: '',
    car: { historySeq: carSeq },
  };
}

/** Whatever changed at the event since the plan may have changed what a row means, so the rows are planned anew. */
async function assertUnmoved(tx: Tx, job: ImportJob, known: Known): Promise<void> {
  if ((await readMark(tx, job.eventId, job.vehicleIds)) !== known.mark) throw new Moved();
}
