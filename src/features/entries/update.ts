import type { Actor } from '../../domain/actor.ts';
import { plainDateAt } from '../../domain/calendar.ts';
import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { isUniqueViolation } from '../../platform/db-errors.ts';
import { type LockedEntry, lockEntry } from '../../records/entry-lock.ts';
import { recordEvent } from '../../records/history.ts';
import { closeTicket } from '../../records/tickets.ts';
import { numberTaken, sharedCarDiffers, unknownReference } from './refusals.ts';
import { personKeysOf, type UpdateEntry } from './schemas.ts';
import {
  findEntry,
  findVehicleOfNumber,
  listEntriesOfVehicle,
  lockCarNumber,
  runGroupExists,
  type StoredEntry,
  updateEntry,
  updateVehicle,
} from './store.ts';

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
 *   `car-number-taken`, `shared-car-differs`, `state-moved-on` (withdrawn)
 */
export async function changeEntry(deps: Deps, actor: Actor, update: Update): Promise<StoredEntry> {
  const now = deps.clock.now();
  try {
    return await inTransaction(deps.db.prisma, (tx) => change(tx, actor, update, now));
  } catch (error) {
    if (isUniqueViolation(error, 'entries_event_id_run_group_id_car_number_key')) {
      throw numberTaken(update.change.carNumber ?? '');
    }
    throw error;
  }
}

async function change(tx: Tx, actor: Actor, update: Update, now: Date): Promise<StoredEntry> {
  const before = await findEntry(tx, update.entryId, now);
  if (before === undefined) throw notFound('entry');
  const locked = await lockAll(tx, before, update.change, now);
  const current = await findEntry(tx, update.entryId, now);
  const own = locked.find((entry) => entry.entryId === update.entryId);
  if (current === undefined || own === undefined) throw notFound('entry');
  assertIfMatch(update.ifMatch, etagOf(current.rev, current.vehicleRev));
  if (own.facts.withdrawn) {
    throw new ProblemError('state-moved-on', 'The entry was withdrawn.', { currentState: 'withdrawn' });
  }
  await applyChange(tx, current, own, update.change);
  const context = { actor, at: now, requestId: update.requestId };
  const changed = Object.keys(update.change);
  await recordEvent(tx, own, { ...context, action: 'entry.updated', data: { changed } });
  await voidWhatWasJudged(tx, { current, own, locked, change: update.change }, context);
  const after = await findEntry(tx, update.entryId, now);
  if (after === undefined) throw notFound('entry');
  return after;
}

// Always in the order of ids, so that two changes of one shared car wait for each other instead of deadlocking.
async function lockAll(tx: Tx, entry: StoredEntry, wanted: UpdateEntry, now: Date): Promise<LockedEntry[]> {
  const { entryId, vehicleId } = entry.view;
  const sharing =
    wanted.vehicle === undefined ? [] : await listEntriesOfVehicle(tx, vehicleId, plainDateAt(now, 'UTC'));
  const locked: LockedEntry[] = [];
  for (const id of [...new Set([entryId, ...sharing])].sort()) {
    const one = await lockEntry(tx, id);
    if (one !== undefined) locked.push(one);
  }
  return locked;
}

async function applyChange(tx: Tx, current: StoredEntry, own: LockedEntry, wanted: UpdateEntry): Promise<void> {
  const { vehicle, ...entryChange } = wanted;
  if (entryChange.runGroupId !== undefined && !(await runGroupExists(tx, own.eventId, entryChange.runGroupId))) {
    throw unknownReference('/runGroupId', 'This event has no run group with this id.');
  }
  if (entryChange.carNumber !== undefined && entryChange.carNumber !== own.carNumber) {
    await assertNumberFits(tx, own, entryChange.carNumber);
  }
  const personKeys = personKeysOf({
    entrant: wanted.entrant ?? current.view.entrant,
    people: wanted.people ?? current.view.people,
  });
  const entryMoved = !(await updateEntry(tx, own.entryId, current.rev, { ...entryChange, personKeys }));
  const vehicleMoved = vehicle !== undefined && !(await updateVehicle(tx, own.vehicleId, current.vehicleRev, vehicle));
  if (entryMoved || vehicleMoved) throw stale(etagOf(current.rev + 1, current.vehicleRev));
}

async function assertNumberFits(tx: Tx, own: LockedEntry, carNumber: string): Promise<void> {
  await lockCarNumber(tx, own.eventId, carNumber);
  const other = await findVehicleOfNumber(tx, own.eventId, carNumber, own.entryId);
  if (other !== undefined && other !== own.vehicleId) throw sharedCarDiffers(carNumber, other);
}

async function voidWhatWasJudged(
  tx: Tx,
  what: { current: StoredEntry; own: LockedEntry; locked: readonly LockedEntry[]; change: UpdateEntry },
  context: { actor: Actor; at: Date; requestId: string },
): Promise<void> {
  const moved = what.change.runGroupId !== undefined && what.change.runGroupId !== what.current.view.runGroupId;
  const affected = what.change.vehicle === undefined ? (moved ? [what.own] : []) : what.locked;
  const reason = what.change.vehicle === undefined ? 'the car changed its run group' : 'the record of the car changed';
  for (const entry of affected) {
    if (entry.facts.declared === undefined || entry.facts.withdrawn) continue;
    await closeTicket(tx, entry, 'void', context.at);
    await recordEvent(tx, entry, {
      ...context,
      action: 'declaration.voided',
      event: { type: 'declaration-voided', reason },
    });
  }
}
