import type { Actor } from '../../domain/actor.ts';
import { plainDateAt } from '../../domain/calendar.ts';
import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { isUniqueViolation } from '../../platform/db-errors.ts';
import { followPeople, lockPeople } from '../../records/driver-holds.ts';
import { type LockedEntry, lockEntries } from '../../records/entry-lock.ts';
import { recordEvent } from '../../records/history.ts';
import { tellEntrant } from '../../records/tell-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';
import { isSwap, lockForSwap, swapIfWanted } from './swap-car.ts';
import { assertAllowed, numberTaken, sharedCarDiffers, unknownReference } from './refusals.ts';
import { checkNumber } from './number-check.ts';
import { type NumberWarning, personIdsOf, personKeysOf, type UpdateEntry } from './schemas.ts';
import {
  findEntry,
  findNumberRules,
  findVehicleOfNumber,
  listCarsNear,
  listEntriesOfVehicle,
  lockCarNumber,
  runGroupExists,
  type StoredEntry,
  updateEntry,
  updateVehicle,
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
 * Changes an entry. What was judged must be what drives: another run group, or a changed vehicle record (of a shared
 * car: for each of its entries), voids the submitted declaration, and the car is off the line until it is submitted
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
  const warnings = await applyChange(tx, current, own, update.change);
  const swapped = await swapIfWanted(tx, locked, update, { actor, at: now, requestId: update.requestId });
  const context = { actor, at: now, requestId: update.requestId };
  const changed = Object.keys(update.change);
  await recordEvent(tx, own, { ...context, action: 'entry.updated', data: { changed } });
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
  current: StoredEntry,
  own: LockedEntry,
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
  const vehicleMoved = vehicle !== undefined && !(await updateVehicle(tx, own.vehicleId, current.vehicleRev, vehicle));
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
  const moved = change.runGroupId !== undefined && change.runGroupId !== current.view.runGroupId;
  const differs = change.vehicle !== undefined && canonicalHash(change.vehicle) !== canonicalHash(current.view.vehicle);
  const affected = differs ? what.locked : moved ? [what.own] : [];
  const reason = differs ? 'the record of the car changed' : 'the car changed its run group';
  for (const entry of affected) {
    const { declared, withdrawn } = entry.facts;
    if (declared === undefined || withdrawn) continue;
    await closeTicket(tx, entry, 'void', context.at);
    await recordEvent(tx, entry, {
      ...context,
      action: 'declaration.voided',
      event: { type: 'declaration-voided', reason },
    });
    const { entryId } = entry;
    const { requestId } = context;
    await tellEntrant(tx, { entryId, kind: 'declaration.voided', id: declared.inspectionId, requestId });
  }
}
