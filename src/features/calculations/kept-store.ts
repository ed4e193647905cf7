import type { Actor } from '../../domain/actor.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';

const SHOWN = { id: true, name: true, body: true, keptBy: true, keptAt: true, linkHash: true } as const;

/** A computation that was kept with a car. */
export interface StoredKept {
  id: string;
  name: string;
  body: unknown;
  keptBy: string;
  keptAt: Date;
  linkHash: Uint8Array | null;
}

/** Whether the car is there for whoever asks: an entrant sees that of the own entry, all others what their access names. */
export async function isCarOf(db: Tx, { role, entryId }: Actor, vehicleId: string): Promise<boolean> {
  if (role === 'entrant') return (await db.entry.count({ where: { id: entryId ?? '', vehicleId } })) > 0;
  return (await db.vehicle.count({ where: { id: vehicleId } })) > 0;
}

/** The record of a car; undefined when there is none. */
export async function findRecord(db: Tx, vehicleId: string): Promise<Vehicle | undefined> {
  const row = await db.vehicle.findUnique({ where: { id: vehicleId }, select: { record: true } });
  // written by us only, from typed values
  return (row?.record as unknown as Vehicle | undefined) ?? undefined;
}

/** Saved answers of an entry of this car; undefined when the entry has another car. */
export async function findAnswers(db: Tx, vehicleId: string, entryId: string): Promise<unknown> {
  const row = await db.entry.findFirst({
    where: { id: entryId, vehicleId },
    select: { draft: { select: { answers: true } } },
  });
  return row === null ? undefined : (row.draft?.answers ?? {});
}

/** Keeps one where the car has room for it; undefined where it has not. The row of the car is locked meanwhile. */
export async function insertKept(
  tx: Tx,
  kept: { vehicleId: string; name: string; body: unknown; keptBy: string; at: Date; most: number },
): Promise<StoredKept | undefined> {
  const { vehicleId, name, keptBy, at: keptAt, most } = kept;
  await tx.$queryRaw`SELECT id FROM vehicles WHERE id = ${vehicleId}::uuid FOR UPDATE`;
  if ((await tx.keptCalculation.count({ where: { vehicleId } })) >= most) return undefined;
  const body = kept.body as Prisma.InputJsonObject; // it came as JSON
  return tx.keptCalculation.create({ data: { vehicleId, name, body, keptBy, keptAt }, select: SHOWN });
}

export async function listKept(db: Tx, vehicleId: string): Promise<StoredKept[]> {
  return db.keptCalculation.findMany({ where: { vehicleId }, select: SHOWN, orderBy: { id: 'desc' } });
}

/** Whether there was one. */
export async function deleteKept(db: Tx, vehicleId: string, keptId: string): Promise<boolean> {
  return (await db.keptCalculation.deleteMany({ where: { id: keptId, vehicleId } })).count > 0;
}

/** Sets or ends the link of one. @returns whether there is such a one */
export async function setLink(
  db: Tx,
  { vehicleId, keptId, hash }: { vehicleId: string; keptId: string; hash: Buffer | null },
): Promise<boolean> {
  const data = { linkHash: hash === null ? null : new Uint8Array(hash) };
  return (await db.keptCalculation.updateMany({ where: { id: keptId, vehicleId }, data })).count > 0;
}

export async function findShared(db: Tx, hash: Buffer): Promise<Pick<StoredKept, 'name' | 'body' | 'keptAt'> | null> {
  return db.keptCalculation.findUnique({
    where: { linkHash: new Uint8Array(hash) },
    select: { name: true, body: true, keptAt: true },
  });
}
