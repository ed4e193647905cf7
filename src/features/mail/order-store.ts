import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { OrderMails } from './schemas.ts';

/** More than one event has cars; it bounds what one request writes. */
const MOST = 1000;

/**
 * Entries that an order names, and whether it concerns them: who has declared is not reminded, and who does not wait at the
 * line is given no time for it. Undefined where there is no such event.
 */
export async function listOrderable(
  db: Tx,
  eventId: string,
  { kind, runGroupId, entryIds }: Pick<OrderMails, 'kind' | 'runGroupId' | 'entryIds'>,
): Promise<{ entryId: string; concerned: boolean }[] | undefined> {
  if ((await db.event.count({ where: { id: eventId } })) === 0) return undefined;
  const where = [
    Prisma.sql`e.event_id = ${eventId}::uuid`,
    ...(runGroupId === undefined ? [] : [Prisma.sql`e.run_group_id = ${runGroupId}::uuid`]),
    ...(entryIds === undefined ? [] : [Prisma.sql`e.id = ANY (${entryIds}::uuid[])`]),
  ];
  const concerned = {
    reminder: Prisma.sql`c.facts->'declared' IS NULL`,
    'line-time': Prisma.sql`EXISTS (SELECT 1 FROM tickets t WHERE t.entry_id = e.id AND t.state IN ('waiting', 'claimed'))`,
    note: Prisma.sql`true`,
  }[kind];
  return db.$queryRaw<{ entryId: string; concerned: boolean }[]>`
    SELECT e.id AS "entryId", ${concerned} AS concerned FROM entries e JOIN clearances c ON c.entry_id = e.id
    WHERE ${Prisma.join(where, ' AND ')} ORDER BY e.id LIMIT ${MOST}`;
}
