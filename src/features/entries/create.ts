import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import type { FactOrigin } from '../../domain/car/car-facts.ts';
import { type LookAlike, lookAlikesOf } from '../../domain/look-alikes.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, isUniqueViolation, type Tx } from '../../platform/database/db.ts';
import { givenBy } from '../../records/car-facts.ts';
import { followPeople, lockPeople } from '../../records/locks/driver-holds.ts';
import { lockEntry } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { type CreateEntry, type NumberWarning, personIdsOf } from './schemas.ts';
import {
  type EnteredCar,
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
  const vehicleId = await vehicleFor(tx, input.eventId, input.entry, givenBy({ actor, at }));
  const people = personIdsOf(input.entry);
  await lockPeople(tx, input.eventId, people, 'share');
  const entryId = await insertEntry(tx, { ...input, vehicleId, createdBy: actor.tokenId });
  const locked = await lockEntry(tx, entryId);
  if (locked === undefined) throw notFound('entry');
  const data = { carNumber, runGroupId, vehicleId };
  const why = { actor, at, requestId: input.requestId };
  await recordEntryHistory(tx, locked, { ...why, action: 'entry.created', data });
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

async function vehicleFor(tx: Tx, eventId: string, entry: CreateEntry, by: FactOrigin): Promise<string> {
  const shared = await findVehicleOfNumber(tx, eventId, entry.carNumber);
  if (shared === undefined) {
    if (entry.vehicleId !== undefined) return entry.vehicleId;
    if (entry.vehicle !== undefined) return insertVehicle(tx, entry.vehicle, by);
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

/** What the organizer decided for an event about numbers that look alike. */
export interface NumberRules {
  lookAlikes: 'warn' | 'refuse';
  zeroTwins: 'refuse' | 'allow';
}

export interface NumberCheck {
  /** one per car whose number can be taken for this one */
  warnings: readonly NumberWarning[];
  /** those that the event does not allow beside this number; empty: it may be entered */
  refused: readonly NumberWarning[];
}

/**
 * Compares a number with those of its event. A number that the event has already is no new one, so nothing refuses it:
 * a shared car keeps its number in every run group.
 *
 * @param cars those of the event whose numbers may be taken for it, those of this number included; others do not matter
 */
export function checkNumber(carNumber: string, cars: readonly EnteredCar[], rules: NumberRules): NumberCheck {
  // Two swapped digits are two numbers on a door; they are mixed up by those who type, which the gate knows.
  const warnings = lookAlikesOf(carNumber, cars)
    .filter(({ kind }) => kind !== 'swapped')
    .map((one) => ({ ...one, detail: detailOf(one) }));
  const known = cars.some((car) => car.carNumber === carNumber);
  return { warnings, refused: known ? [] : warnings.filter((one) => isRefused(one, rules)) };
}

function isRefused({ kind }: LookAlike, { lookAlikes, zeroTwins }: NumberRules): boolean {
  return kind === 'zeros' ? zeroTwins === 'refuse' : lookAlikes === 'refuse';
}

function detailOf({ carNumber, vehicle, colour, kind }: LookAlike): string {
  const car = [vehicle, colour].filter((part) => part !== undefined).join(', ');
  const named = `${carNumber}${car === '' ? '' : ` (${car})`}`;
  if (kind === 'zeros') return `Differs only by zeros from ${named}, which is entered here.`;
  if (kind === 'case') return `Differs only by capitals from ${named}, which is entered here.`;
  return `Looks like ${named}, which is entered here.`;
}

export function numberTaken(carNumber: string): ProblemError {
  return new ProblemError('car-number-taken', `Car ${carNumber} is entered in this run group already.`, {
    errors: [{ pointer: '/carNumber', code: 'taken', detail: 'This number is taken in this run group.' }],
  });
}

/** @throws ProblemError `car-number-looks-alike`, with the numbers */
export function assertAllowed(carNumber: string, { refused }: NumberCheck): void {
  if (refused.length === 0) return;
  const [detail, ...more] = refused.map((one) => one.detail);
  const says = `Car ${carNumber} is not entered. ${[detail, ...more].join(' ')} The event does not allow that.`;
  throw new ProblemError('car-number-looks-alike', says, {
    errors: refused.map((one) => ({ pointer: '/carNumber', code: 'looks-alike', detail: one.detail })),
    lookAlikes: refused.map(({ carNumber: number, vehicle, colour, kind }) => ({
      carNumber: number,
      vehicle,
      colour,
      kind,
    })),
  });
}

export function sharedCarDiffers(carNumber: string, vehicleId: string): ProblemError {
  const detail = `Car ${carNumber} is entered in another run group with vehicle ${vehicleId}. Leave vehicle out to share it.`;
  return new ProblemError('shared-car-differs', detail, { vehicleId });
}

export function unknownReference(pointer: string, detail: string): ProblemError {
  return new ProblemError('not-acceptable', detail, { errors: [{ pointer, code: 'unknown-reference', detail }] });
}
