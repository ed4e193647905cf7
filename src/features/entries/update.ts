import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import type { FactOrigin } from '../../domain/car/car-facts.ts';
import { plainDateAt } from '../../domain/calendar.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/headers.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { inTransaction, isUniqueViolation, type Tx } from '../../platform/database/db.ts';
import { CAR_CHANGED, givenBy, judgedOnChange, voidDeclarations } from '../../records/car-facts.ts';
import { listStickers } from '../../records/what-stands.ts';
import { recordCarHistory, recordEntryHistory } from '../../records/history/history.ts';
import { followPeople, lockPeople } from '../../records/locks/driver-holds.ts';
import { type LockedEntry, lockEntries } from '../../records/locks/entry-lock.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';
import { ensureCar, listEntriesOfCar, lockCarsForSwap, moveToCar } from './vehicle-store.ts';
import { assertAllowed, checkNumber, numberTaken, sharedCarDiffers, unknownReference } from './create.ts';
import { type NumberWarning, personIdsOf, personKeysOf, type UpdateEntry } from './schemas.ts';
import {
  findEntry,
  findNumberRules,
  findVehicleOfNumber,
  insertVehicle,
  listCarsNear,
  listEntriesOfVehicle,
  lockCarNumber,
  runGroupExists,
  type StoredEntry,
  updateEntry,
  updateVehicle,
  vehicleExists,
} from './store.ts';

export interface ChangedEntry extends StoredEntry {
  /** absent: the number stayed as it was */
  warnings?: readonly NumberWarning[] | undefined;
}

interface Update {
  entryId: string;
  ifMatch: string | undefined;
  change: UpdateEntry;
  requestId: string;
}

/**
 * Changes an entry. What was judged must be what drives: another run group, or a changed fact of the car that a rule used
 * (of a shared car: for each of its entries), voids the submitted declaration, and the car is off the line until it is submitted
 * again. A new number or new people leave it standing.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`,
 *   `car-number-taken`, `shared-car-differs`, `car-number-looks-alike`, `state-moved-on` (withdrawn)
 */
export async function changeEntry(deps: Deps, actor: Actor, update: Update): Promise<ChangedEntry> {
  const now = deps.clock.now();
  try {
    return await inTransaction(deps.db.prisma, (tx) => changeEntryIn(tx, actor, update, now));
  } catch (error) {
    if (isUniqueViolation(error, 'entries_event_id_run_group_id_car_number_key')) {
      throw numberTaken(update.change.carNumber ?? '');
    }
    throw error;
  }
}

/** The same in the caller's transaction; a unique violation when another entry of the run group has the number. */
export async function changeEntryIn(tx: Tx, actor: Actor, update: Update, now: Date): Promise<ChangedEntry> {
  const before = await findEntry(tx, update.entryId, now);
  if (before === undefined) throw notFound('entry');
  await lockNames(tx, before, update.change);
  const locked = await lockAll(tx, before, update.change, now);
  const current = await findEntry(tx, update.entryId, now);
  const own = locked.find((entry) => entry.entryId === update.entryId);
  if (current === undefined || own === undefined) throw notFound('entry');
  assertIfMatch(update.ifMatch, etagOf(current.rev, current.vehicleRev));
  if (own.facts.withdrawn) {
    throw new ProblemError('state-moved-on', 'The entry was withdrawn.', { currentState: 'withdrawn' });
  }
  if (Object.keys(update.change).length === 0) return current;
  const given = givenBy({ actor, at: now });
  const warnings = await applyChange(tx, { current, own, given }, update.change);
  const swapped = await swapIfWanted(tx, locked, update, { actor, at: now, requestId: update.requestId });
  const context = { actor, at: now, requestId: update.requestId };
  const changed = Object.keys(update.change);
  await recordEntryHistory(tx, own, { ...context, action: 'entry.updated', data: { changed } });
  if (update.change.entrant !== undefined || update.change.people !== undefined) {
    await followPeople(tx, own, personIdsOf({ ...current.view, ...update.change }), context);
  }
  if (!swapped) await voidWhatWasJudged(tx, { current, own, locked, change: update.change }, context);
  const after = await findEntry(tx, update.entryId, now);
  if (after === undefined) throw notFound('entry');
  return { ...after, warnings };
}

/** Numbers and people before the locks of cars and entries, as everybody does who gives them. */
async function lockNames(tx: Tx, before: StoredEntry, change: UpdateEntry): Promise<void> {
  const { eventId, carNumber } = before.view;
  const given = change.carNumber ?? (isSwap(change) ? carNumber : undefined);
  if (given !== undefined) await lockCarNumber(tx, eventId, given);
  await lockPeople(tx, eventId, personIdsOf({ ...before.view, ...change }), 'share');
}

async function lockAll(tx: Tx, entry: StoredEntry, wanted: UpdateEntry, now: Date): Promise<LockedEntry[]> {
  const { entryId, vehicleId } = entry.view;
  if (isSwap(wanted)) return lockForSwap(tx, entry.view, wanted.vehicleId);
  // The day where it begins last: an event is over when its last day has ended at its venue.
  const sharing =
    wanted.vehicle === undefined ? [] : await listEntriesOfVehicle(tx, vehicleId, plainDateAt(now, 'Etc/GMT+12'));
  return lockEntries(tx, [entryId, ...sharing], wanted.vehicle === undefined ? 'decide' : 'change');
}

async function applyChange(
  tx: Tx,
  { current, own, given }: { current: StoredEntry; own: LockedEntry; given: FactOrigin },
  wanted: UpdateEntry,
): Promise<readonly NumberWarning[] | undefined> {
  const { vehicle, vehicleId: _, newVehicle: __, ...entryChange } = wanted;
  if (entryChange.runGroupId !== undefined && !(await runGroupExists(tx, own.eventId, entryChange.runGroupId))) {
    throw unknownReference('/runGroupId', 'This event has no run group with this id.');
  }
  const renumbered = entryChange.carNumber !== undefined && entryChange.carNumber !== current.view.carNumber;
  const warnings = renumbered ? await fitNumber(tx, own, entryChange.carNumber ?? '') : undefined;
  const named = { entrant: wanted.entrant ?? current.view.entrant, people: wanted.people ?? current.view.people };
  const people = { personKeys: personKeysOf(named), personIds: personIdsOf(named) };
  const entryMoved = !(await updateEntry(tx, own.entryId, current.rev, { ...entryChange, ...people }));
  const vehicleMoved =
    vehicle !== undefined &&
    !(await updateVehicle(tx, { vehicleId: own.vehicleId, rev: current.vehicleRev }, vehicle, given));
  if (entryMoved || vehicleMoved) throw stale(etagOf(current.rev + 1, current.vehicleRev));
  return warnings;
}

/** The car gives its own number up, so it does not stand in its own way. */
async function fitNumber(tx: Tx, own: LockedEntry, carNumber: string): Promise<readonly NumberWarning[]> {
  const other = await findVehicleOfNumber(tx, own.eventId, carNumber, own.entryId);
  if (other !== undefined && other !== own.vehicleId) throw sharedCarDiffers(carNumber, other);
  const rules = await findNumberRules(tx, own.eventId);
  if (rules === undefined) throw notFound('event');
  const cars = await listCarsNear(tx, own.eventId, carNumber);
  const check = checkNumber(
    carNumber,
    cars.filter(({ entryId }) => entryId !== own.entryId),
    rules,
  );
  assertAllowed(carNumber, check);
  return check.warnings;
}

async function voidWhatWasJudged(
  tx: Tx,
  what: { current: StoredEntry; own: LockedEntry; locked: readonly LockedEntry[]; change: UpdateEntry },
  context: { actor: Actor; at: Date; requestId: string },
): Promise<void> {
  const { change, current } = what;
  const { vehicle } = change;
  const moved = change.runGroupId !== undefined && change.runGroupId !== current.view.runGroupId;
  const differs = vehicle !== undefined && canonicalHash(vehicle) !== canonicalHash(current.view.vehicle);
  const now = new Map(differs ? [[current.view.vehicleId, vehicle]] : []);
  const judgedOn = await judgedOnChange(tx, what.locked, { now, at: context.at });
  const affected = moved ? [...new Set([what.own, ...judgedOn])] : judgedOn;
  const reason = judgedOn.length > 0 ? CAR_CHANGED : 'the car changed its run group';
  await voidDeclarations(tx, affected, reason, context);
}

type Why = { actor: Actor; at: Date; requestId: string };

/** Whether a change says that another car runs under the number. */
const isSwap = ({ vehicleId, newVehicle }: UpdateEntry): boolean => vehicleId !== undefined || newVehicle !== undefined;

/** Locks both cars, where both are known, then every entry of the one that goes. */
async function lockForSwap(
  tx: Tx,
  { eventId, vehicleId: from }: { eventId: string; vehicleId: string },
  to: string | undefined,
): Promise<LockedEntry[]> {
  if (to !== undefined) {
    if (!(await vehicleExists(tx, to))) throw unknownReference('/vehicleId', 'There is no vehicle with this id.');
    await ensureCar(tx, eventId, to);
  }
  await lockCarsForSwap(tx, eventId, to === undefined ? [from] : [from, to]);
  return lockEntries(tx, await listEntriesOfCar(tx, eventId, from), 'change');
}

/** Swaps the car if the change says so and it is another one; returns whether it did. */
async function swapIfWanted(
  tx: Tx,
  leaving: readonly LockedEntry[],
  { change }: { change: UpdateEntry },
  why: Why,
): Promise<boolean> {
  if (!isSwap(change)) return false;
  const vehicleId =
    change.newVehicle === undefined ? change.vehicleId : await insertVehicle(tx, change.newVehicle, givenBy(why));
  if (vehicleId === undefined || vehicleId === leaving[0]?.vehicleId) return false;
  await swapCar(tx, { leaving, vehicleId, why });
  return true;
}

interface Swap {
  /** every entry of the car that goes, locked for a change; not empty */
  leaving: readonly LockedEntry[];
  vehicleId: string;
  why: Why;
}

/**
 * Another car runs under the number from now on, in each of its entries. What the line said of the car before stays with
 * that car; clearance, declaration and sticker go with it. Call it with both cars locked (`lockCarsForSwap`).
 */
async function swapCar(tx: Tx, { leaving, vehicleId, why }: Swap): Promise<void> {
  const [first] = leaving;
  if (first === undefined) return;
  const stickers = await listStickers(tx, first.car.carId);
  const carId = await ensureCar(tx, first.eventId, vehicleId);
  await moveToCar(
    tx,
    leaving.map(({ entryId }) => entryId),
    { carId, vehicleId },
  );
  for (const entry of leaving) await leaveCar(tx, entry, { vehicleId, why });
  const [arrived] = await lockEntries(tx, [first.entryId], 'change');
  if (arrived === undefined) return;
  await recordCarHistory(tx, arrived.car, {
    ...why,
    action: 'car.took-over',
    happening: { type: 'car-took-over', stickers },
  });
}

async function leaveCar(tx: Tx, entry: LockedEntry, { vehicleId, why }: Omit<Swap, 'leaving'>): Promise<void> {
  if (entry.facts.withdrawn) return;
  const { declared } = entry.facts;
  await closeTicket(tx, entry, 'void', why.at);
  const data = { from: entry.vehicleId, to: vehicleId };
  await recordEntryHistory(tx, entry, {
    ...why,
    action: 'entry.car-changed',
    happening: { type: 'declaration-voided', reason: 'another car runs under this number' },
    data,
  });
  if (declared === undefined) return;
  const { entryId } = entry;
  await notifyEntrant(tx, { entryId, kind: 'declaration.voided', id: declared.inspectionId, requestId: why.requestId });
}
