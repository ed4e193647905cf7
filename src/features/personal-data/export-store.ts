import type { Tx } from '../../platform/db.ts';

/**
 * Everything on record about an entry; undefined when there is no such entry. One query after the other: inside a
 * transaction the driver can run no two at once.
 */
export async function findEverything(tx: Tx, entryId: string) {
  const entry = await tx.entry.findUnique({ where: { id: entryId } });
  if (entry === null) return undefined;
  const { eventId, carNumber, runGroupId, vehicleId } = entry;
  const where = { entryId };
  const byId = { where, orderBy: { id: 'asc' } } as const;
  return {
    ...entry,
    event: await tx.event.findUniqueOrThrow({ where: { id: eventId }, include: { venue: true } }),
    runGroup: await tx.runGroup.findUniqueOrThrow({ where: { id: runGroupId } }),
    vehicle: await tx.vehicle.findUniqueOrThrow({ where: { id: vehicleId } }),
    draft: await tx.draft.findUnique({ where }),
    tokens: await tx.token.findMany(byId),
    inspections: await tx.inspection.findMany({ where, orderBy: { revision: 'asc' } }),
    signOffs: await tx.signOff.findMany({ where, orderBy: { signedAt: 'asc' } }),
    conditions: await tx.condition.findMany(byId),
    holds: await tx.hold.findMany(byId),
    concessions: await tx.concession.findMany(byId),
    history: await tx.history.findMany({ where, orderBy: { seq: 'asc' } }),
    photos: await tx.photo.findMany(byId),
    notifications: await tx.notification.findMany({ where, orderBy: { createdAt: 'asc' } }),
    gateChecks: await tx.gateCheck.findMany({
      where: { eventId, carNumber, OR: [{ runGroupId: null }, { runGroupId }] },
      orderBy: { askedAt: 'asc' },
    }),
  };
}

export type Everything = NonNullable<Awaited<ReturnType<typeof findEverything>>>;
