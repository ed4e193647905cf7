import type { Actor } from '../../domain/actor.ts';
import type { Tx } from '../../platform/db.ts';
import { type LockedEntry, lockEntries } from '../../records/entry-lock.ts';
import { recordCarEvent, recordEvent } from '../../records/history.ts';
import { listStickers } from '../../records/stickers.ts';
import { tellEntrant } from '../../records/tell-entrant.ts';
import { closeTicket } from '../../records/tickets.ts';
import { unknownReference } from './refusals.ts';
import type { UpdateEntry } from './schemas.ts';
import { ensureCar, listEntriesOfCar, lockCarsForSwap, moveToCar } from './cars-store.ts';
import { insertVehicle, vehicleExists } from './store.ts';

type Why = { actor: Actor; at: Date; requestId: string };

/** Whether a change says that another car runs under the number. */
export const isSwap = ({ vehicleId, newVehicle }: UpdateEntry): boolean =>
  vehicleId !== undefined || newVehicle !== undefined;

/** Locks both cars, where both are known, then every entry of the one that goes. */
export async function lockForSwap(
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
export async function swapIfWanted(
  tx: Tx,
  leaving: readonly LockedEntry[],
  { change }: { change: UpdateEntry },
  why: Why,
): Promise<boolean> {
  if (!isSwap(change)) return false;
  const vehicleId = change.newVehicle === undefined ? change.vehicleId : await insertVehicle(tx, change.newVehicle);
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
  await recordCarEvent(tx, arrived.car, {
    ...why,
    action: 'car.took-over',
    event: { type: 'car-took-over', stickers },
  });
}

async function leaveCar(tx: Tx, entry: LockedEntry, { vehicleId, why }: Omit<Swap, 'leaving'>): Promise<void> {
  if (entry.facts.withdrawn) return;
  const { declared } = entry.facts;
  await closeTicket(tx, entry, 'void', why.at);
  const data = { from: entry.vehicleId, to: vehicleId };
  await recordEvent(tx, entry, {
    ...why,
    action: 'entry.car-changed',
    event: { type: 'declaration-voided', reason: 'another car runs under this number' },
    data,
  });
  if (declared === undefined) return;
  const { entryId } = entry;
  await tellEntrant(tx, { entryId, kind: 'declaration.voided', id: declared.inspectionId, requestId: why.requestId });
}
