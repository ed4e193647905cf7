import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { isUniqueViolation } from '../../platform/db-errors.ts';
import { followPeople, lockPeople } from '../../records/driver-holds.ts';
import { lockEntry } from '../../records/entry-lock.ts';
import { recordEvent } from '../../records/history.ts';
import { checkNumber } from './number-check.ts';
import { assertAllowed, numberTaken, sharedCarDiffers, unknownReference } from './refusals.ts';
import { type CreateEntry, type NumberWarning, personIdsOf } from './schemas.ts';
import {
  findEntry,
  findNumberRules,
  findVehicleOfNumber,
  insertEntry,
  insertVehicle,
  isNumberInGroup,
  listCarsNear,
  lockCarNumber,
  runGroupExists,
  type StoredEntry,
  vehicleExists,
} from './store.ts';

/**
 * Enters a car in a run group. The same number in another run group of the event is the same car, so the vehicle is
 * taken from there. Numbers of the event that look like it are named, or refuse it where the organizer decided so.
 *
 * @throws ProblemError `not-found` (event), `not-acceptable` (run group, vehicle), `car-number-taken`,
 *   `shared-car-differs`, `car-number-looks-alike`
 */
export async function createEntry(
  deps: Deps,
  actor: Actor,
  input: { eventId: string; entry: CreateEntry; requestId: string },
): Promise<StoredEntry & { warnings: readonly NumberWarning[] }> {
  const now = deps.clock.now();
  try {
    return await inTransaction(deps.db.prisma, async (tx) => {
      await assertReferences(tx, input.eventId, input.entry);
      const { entryId, warnings } = await enterCar(tx, actor, input, now);
      const stored = await findEntry(tx, entryId, now);
      if (stored === undefined) throw notFound('entry');
      return { ...stored, warnings };
    });
  } catch (error) {
    if (isUniqueViolation(error, 'entries_event_id_run_group_id_car_number_key'))
      throw numberTaken(input.entry.carNumber);
    throw error;
  }
}

/**
 * The same in the caller's transaction, for an event and a run group that are known to exist.
 *
 * @throws ProblemError `not-acceptable` (no vehicle), `car-number-taken`, `shared-car-differs`; a unique violation when
 *   the number came into the run group meanwhile
 */
export async function enterCar(
  tx: Tx,
  actor: Actor,
  input: { eventId: string; entry: CreateEntry; requestId: string },
  at: Date,
): Promise<{ entryId: string; warnings: readonly NumberWarning[] }> {
  const { carNumber, runGroupId } = input.entry;
  await lockCarNumber(tx, input.eventId, carNumber);
  const warnings = await checkedNumber(tx, input.eventId, carNumber);
  const vehicleId = await vehicleFor(tx, input.eventId, input.entry);
  const people = personIdsOf(input.entry);
  await lockPeople(tx, input.eventId, people, 'share');
  const entryId = await insertEntry(tx, { ...input, vehicleId, createdBy: actor.tokenId });
  const locked = await lockEntry(tx, entryId);
  if (locked === undefined) throw notFound('entry');
  const data = { carNumber, runGroupId, vehicleId };
  const why = { actor, at, requestId: input.requestId };
  await recordEvent(tx, locked, { ...why, action: 'entry.created', data });
  if (people.length > 0) await followPeople(tx, locked, people, why);
  return { entryId, warnings };
}

/**
 * What the number can be taken for, under the lock on it.
 *
 * @throws ProblemError `not-found` (event), `car-number-looks-alike`
 */
async function checkedNumber(tx: Tx, eventId: string, carNumber: string): Promise<readonly NumberWarning[]> {
  const rules = await findNumberRules(tx, eventId);
  if (rules === undefined) throw notFound('event');
  const check = checkNumber(carNumber, await listCarsNear(tx, eventId, carNumber), rules);
  assertAllowed(carNumber, check);
  return check.warnings;
}

async function assertReferences(tx: Tx, eventId: string, entry: CreateEntry): Promise<void> {
  if ((await findNumberRules(tx, eventId)) === undefined) throw notFound('event');
  if (!(await runGroupExists(tx, eventId, entry.runGroupId))) {
    throw unknownReference('/runGroupId', 'This event has no run group with this id.');
  }
  if (entry.vehicleId !== undefined && !(await vehicleExists(tx, entry.vehicleId))) {
    throw unknownReference('/vehicleId', 'There is no vehicle with this id.');
  }
}

async function vehicleFor(tx: Tx, eventId: string, entry: CreateEntry): Promise<string> {
  const shared = await findVehicleOfNumber(tx, eventId, entry.carNumber);
  if (shared === undefined) {
    if (entry.vehicleId !== undefined) return entry.vehicleId;
    if (entry.vehicle !== undefined) return insertVehicle(tx, entry.vehicle);
    throw new ProblemError('not-acceptable', `No car ${entry.carNumber} is entered yet, so its vehicle is needed.`, {
      errors: [
        { pointer: '/vehicle', code: 'missing', detail: 'Give the record of the car, or the id of a known one.' },
      ],
    });
  }
  if (entry.vehicle !== undefined || (entry.vehicleId ?? shared) !== shared) {
    if (await isNumberInGroup(tx, eventId, entry)) throw numberTaken(entry.carNumber);
    throw sharedCarDiffers(entry.carNumber, shared);
  }
  return shared;
}
