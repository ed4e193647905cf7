import { v7 as uuidV7 } from 'uuid';
import { NOTHING_WRONG } from '../../domain/clearance/car-facts.ts';
import type { Tx } from '../../platform/database/db.ts';

/** The row of a car at an event; made with its first entry. What is said of the car stays as it is until the commit. */
export async function carOf(tx: Tx, eventId: string, vehicleId: string): Promise<string> {
  const carId = await ensureCar(tx, eventId, vehicleId);
  await tx.$queryRaw`SELECT id FROM car_clearances WHERE id = ${carId}::uuid FOR SHARE`;
  return carId;
}

/** The same without a lock. */
export async function ensureCar(tx: Tx, eventId: string, vehicleId: string): Promise<string> {
  await tx.$executeRaw`
    INSERT INTO car_clearances (id, event_id, vehicle_id, facts)
    VALUES (${uuidV7()}::uuid, ${eventId}::uuid, ${vehicleId}::uuid, ${JSON.stringify(NOTHING_WRONG)}::jsonb)
    ON CONFLICT (event_id, vehicle_id) DO NOTHING`;
  const [car] = await tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM car_clearances WHERE event_id = ${eventId}::uuid AND vehicle_id = ${vehicleId}::uuid`;
  if (car === undefined) throw new Error('a car that was just entered is not there');
  return car.id;
}

/** Locks two cars of an event for a change, in the order of their ids. */
export async function lockCarsForSwap(tx: Tx, eventId: string, vehicleIds: readonly string[]): Promise<void> {
  await tx.$queryRaw`
    SELECT id FROM car_clearances WHERE event_id = ${eventId}::uuid AND vehicle_id = ANY (${[...vehicleIds]}::uuid[])
    ORDER BY id FOR NO KEY UPDATE`;
}

/** Entries of a car at an event. */
export async function listEntriesOfCar(tx: Tx, eventId: string, vehicleId: string): Promise<string[]> {
  const rows = await tx.entry.findMany({ where: { eventId, vehicleId }, select: { id: true }, orderBy: { id: 'asc' } });
  return rows.map((row) => row.id);
}

/** Gives entries another car. */
export async function moveToCar(
  tx: Tx,
  entryIds: readonly string[],
  to: { carId: string; vehicleId: string },
): Promise<void> {
  const ids = [...entryIds];
  await tx.entry.updateMany({ where: { id: { in: ids } }, data: { vehicleId: to.vehicleId, rev: { increment: 1 } } });
  await tx.clearance.updateMany({ where: { entryId: { in: ids } }, data: { carId: to.carId } });
}
