import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { openAfterHold } from '../../domain/clearance/inspect-again.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { listEntriesOfPerson, lockPeople } from '../../records/locks/driver-holds.ts';
import {
  entryWithdrawn,
  lockCar,
  type LockedEntry,
  lockEntries,
  lockEntryForChange,
} from '../../records/locks/entry-lock.ts';
import { recordCarHistory, recordEntryHistory } from '../../records/history/history.ts';
import { notifyEntrant } from '../../records/notify-entrant.ts';
import { putOnLine } from '../../records/tickets.ts';
import { type HoldView, type LiftHold, viewHold } from './hold-schemas.ts';
import { findHold, getVehicle, listCarEntries, type StoredHold, updateLifted } from './hold-store.ts';

interface Lifting {
  holdId: string;
  body: LiftHold;
  requestId: string;
}

/**
 * Gives a clearance back wherever the hold took it away, once what its kind asks for was looked at; or sends the car
 * through the line again. Without either it is the chief inspector's exception, with his reason.
 *
 * @throws ProblemError `not-found`, `forbidden` (whose hold an inspector may not lift), `conflict-of-interest`,
 *   `points-not-checked`, `state-moved-on` (lifted already, or withdrawn)
 */
export async function liftHold(deps: Deps, actor: Actor, lifting: Lifting): Promise<HoldView> {
  return inTransaction(deps.db.prisma, async (tx) => {
    const hold = await findHold(tx, lifting.holdId);
    if (hold === undefined) throw notFound('hold');
    assertMayLift(actor, hold, lifting.body);
    const stopped = await lockStopped(tx, hold);
    const entry = stopped.find(({ entryId }) => entryId === hold.entryId);
    if (entry === undefined) throw notFound('hold');
    if (stopped.every(({ facts }) => facts.withdrawn)) throw entryWithdrawn();
    for (const { entryId } of stopped) await assertNoInterest(tx, actor, entryId);
    await assertInspected(tx, hold, entry, lifting.body);
    const now = deps.clock.now();
    const lifted = await lift(tx, hold, stopped, { actor, now, lifting });
    const vehicle = hold.about === 'car' ? await getVehicle(tx, entry.vehicleId) : undefined;
    return viewHold(lifted, { entry, stopped, vehicle }, now);
  });
}

/** Marshals never; inspectors what an entrant said of his own car, and leaks; the rest is the chief inspector's. */
function assertMayLift(actor: Actor, { byEntrant, kind }: StoredHold, body: LiftHold): void {
  if (actor.role !== 'inspector') return;
  if (!byEntrant && kind !== 'leak') {
    const detail = `A hold of the kind "${kind}" is lifted by the chief inspector.`;
    throw new ProblemError('forbidden', detail);
  }
  if (body.exception === undefined) return;
  throw new ProblemError('forbidden', 'Only the chief inspector lifts a hold without the points it asks for.');
}

/** Everything the hold stops, under lock: cars before entries, entries by id. */
async function lockStopped(tx: Tx, { about, carId, personId, entryId }: StoredHold): Promise<LockedEntry[]> {
  if (about === 'car' && carId !== null) return (await lockCar(tx, carId)) ?? [];
  if (about === 'entry' || personId === null) return [await lockEntryForChange(tx, entryId)];
  const own = await tx.entry.findUniqueOrThrow({ where: { id: entryId }, select: { eventId: true } });
  await lockPeople(tx, own.eventId, [personId], 'change');
  return lockEntries(tx, [...(await listEntriesOfPerson(tx, own.eventId, personId)), entryId], 'entry');
}

async function assertInspected(tx: Tx, hold: StoredHold, entry: LockedEntry, body: LiftHold): Promise<void> {
  if (hold.about !== 'car' || body.requireReinspection === true || body.exception !== undefined) return;
  const open = openAfterHold(hold.kind, await getVehicle(tx, entry.vehicleId), body.checks ?? []);
  if (open.length === 0) return;
  const named = open.map(({ label }) => label).join('; ');
  const detail = `After "${hold.kind}" these must be looked at and in order: ${named}. Or send the car through the line again.`;
  throw new ProblemError('points-not-checked', detail, { standing: open });
}

async function lift(
  tx: Tx,
  hold: StoredHold,
  stopped: readonly LockedEntry[],
  { actor, now, lifting }: { actor: Actor; now: Date; lifting: Lifting },
): Promise<StoredHold> {
  const { holdId, about } = hold;
  const { reason, checks = [], exception, requireReinspection = false } = lifting.body;
  const decided = { holdId, reason, checks, exception, requiresReinspection: requireReinspection };
  const lifted = await updateLifted(tx, { ...decided, actor, at: now });
  if (lifted === undefined) {
    throw new ProblemError('state-moved-on', 'This hold was lifted already.', { currentState: 'lifted' });
  }
  const { requestId } = lifting;
  const data = { reason, checks, ...(exception === undefined ? {} : { exception }), kind: hold.kind };
  const why = { actor, at: now, action: 'hold.lifted', data, requestId };
  const standing = stopped.filter(({ facts }) => !facts.withdrawn);
  if (about === 'car') await liftAtCar(tx, hold, { stopped, standing }, { requireReinspection, why });
  else for (const entry of standing) await liftAtEntry(tx, entry, holdId, requireReinspection, why);
  for (const { entryId } of standing) {
    const also = entryId === hold.entryId ? {} : { also: true as const };
    await notifyEntrant(tx, { entryId, kind: 'hold.lifted', id: holdId, ...also, requestId });
  }
  return lifted;
}

async function liftAtCar(
  tx: Tx,
  hold: StoredHold,
  { stopped: [first], standing }: { stopped: readonly LockedEntry[]; standing: readonly LockedEntry[] },
  { requireReinspection, why }: { requireReinspection: boolean; why: Why },
): Promise<void> {
  if (first === undefined) return;
  const { holdId } = hold;
  const stickers = requireReinspection ? [] : await stickersBack(tx, first, holdId);
  // Before the hold is gone, so that nothing in between says that the car may go.
  if (requireReinspection)
    for (const entry of standing) await sendBack(tx, entry, hold, { ...why, action: 'entry.sent-back' });
  const data = { ...why.data, entryId: hold.entryId };
  await recordCarHistory(tx, first.car, { ...why, data, happening: { type: 'car-lifted', holdId, stickers } });
}

/** Stickers of the car's acceptances count again when nothing else is wrong with it. */
async function stickersBack(tx: Tx, { car }: LockedEntry, holdId: string): Promise<string[]> {
  if (car.facts.holds.some((other) => other.holdId !== holdId) || car.facts.refusals.length > 0) return [];
  return (await listCarEntries(tx, car.carId)).flatMap(({ sticker }) => sticker ?? []);
}

type Why = { actor: Actor; at: Date; action: string; data: Readonly<Record<string, unknown>>; requestId: string };

async function liftAtEntry(tx: Tx, entry: LockedEntry, holdId: string, again: boolean, why: Why): Promise<void> {
  if (!entry.facts.holds.some((hold) => hold.holdId === holdId)) return;
  await recordEntryHistory(tx, entry, { ...why, happening: { type: 'lifted', holdId, requiresReinspection: again } });
  if (again) await putOnLine(tx, entry, why.at);
}

async function sendBack(tx: Tx, entry: LockedEntry, hold: StoredHold, why: Why): Promise<void> {
  const event = { type: 'sent-back', reason: `after the hold "${hold.reason}"` } as const;
  await recordEntryHistory(tx, entry, { ...why, happening: event });
  await putOnLine(tx, entry, why.at);
}
