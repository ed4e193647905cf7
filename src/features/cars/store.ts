import type { Origins } from '../../domain/car/car-facts.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { personKey } from '../../domain/actor.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';

/** A car with who said what of it. */
export interface StoredCar {
  record: Vehicle;
  origins: Origins;
}

export async function findCar(db: Tx, vehicleId: string): Promise<StoredCar | undefined> {
  const row = await db.vehicle.findUnique({ where: { id: vehicleId }, select: { record: true, origins: true } });
  // both are written by us only, from typed values
  return (row as unknown as StoredCar | null) ?? undefined;
}

/** The same, and nobody else changes it until the transaction ends. */
export async function lockVehicle(tx: Tx, vehicleId: string): Promise<StoredCar | undefined> {
  await tx.$queryRaw`SELECT id FROM vehicles WHERE id = ${vehicleId}::uuid FOR UPDATE`;
  return findCar(tx, vehicleId);
}

export async function updateCar(tx: Tx, vehicleId: string, { record, origins }: StoredCar): Promise<void> {
  const plain = origins as unknown as Prisma.InputJsonObject; // plain values only
  await tx.vehicle.update({
    where: { id: vehicleId },
    data: { record, origins: plain, rev: { increment: 1 } },
  });
}

export async function isCarOfEntry(db: Tx, vehicleId: string, entryId: string): Promise<boolean> {
  return (await db.entry.count({ where: { id: entryId, vehicleId } })) > 0;
}

/** Entries of the car at events that are not over on `day` (plain date). */
export async function listCurrentEntries(tx: Tx, vehicleId: string, day: string): Promise<string[]> {
  const rows = await tx.entry.findMany({
    where: { vehicleId, event: { endsOn: { gte: new Date(`${day}T00:00:00Z`) } } },
    select: { id: true },
    orderBy: { id: 'asc' },
  });
  return rows.map(({ id }) => id);
}

/** Whether an inspector has the car at the line now. */
export async function hasClaimOn(db: Tx, vehicleId: string, inspectorId: string): Promise<boolean> {
  const rows = await db.$queryRaw<{ claimed: boolean }[]>`
    SELECT EXISTS (SELECT 1 FROM claims c JOIN tickets t ON t.id = c.ticket_id JOIN entries e ON e.id = t.entry_id
      WHERE e.vehicle_id = ${vehicleId}::uuid AND c.inspector_id = ${inspectorId}::uuid AND c.ended_at IS NULL
        AND c.expires_at > clock_timestamp()) AS claimed`;
  return rows[0]?.claimed === true;
}

/** Of these photos those that show this car. */
export async function listPhotosOfCar(db: Tx, vehicleId: string, photoIds: readonly string[]): Promise<Set<string>> {
  if (photoIds.length === 0) return new Set();
  const rows = await db.photo.findMany({
    where: { id: { in: [...photoIds] }, removedAt: null, entry: { vehicleId } },
    select: { id: true },
  });
  return new Set(rows.map(({ id }) => id));
}

const SHOWN = { id: true, holder: true, createdAt: true, expiresAt: true } as const;

export async function insertLink(
  tx: Tx,
  link: { vehicleId: string; holder: string; hash: Buffer; createdBy: string; at: Date; expiresAt: Date },
) {
  const { vehicleId, holder, createdBy, at: createdAt, expiresAt } = link;
  const hash = new Uint8Array(link.hash);
  const data = {
    role: 'owner',
    hash,
    holder,
    holderKey: personKey(holder),
    vehicleId,
    createdBy,
    createdAt,
    expiresAt,
  };
  return tx.token.create({ data, select: SHOWN });
}

const working = (vehicleId: string, now: Date) =>
  ({ vehicleId, role: 'owner', revokedAt: null, expiresAt: { gt: now } }) as const;

export async function listLinks(db: Tx, vehicleId: string, now: Date) {
  return db.token.findMany({ where: working(vehicleId, now), select: SHOWN, orderBy: { createdAt: 'desc' } });
}

/** Ends links that work; of one holder where it is given, else all. */
export async function endLinks(tx: Tx, vehicleId: string, now: Date, holder?: string): Promise<number> {
  const whose = holder === undefined ? {} : { holderKey: personKey(holder) };
  const { count } = await tx.token.updateMany({
    where: { ...working(vehicleId, now), ...whose },
    data: { revokedAt: now },
  });
  return count;
}
