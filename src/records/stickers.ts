import type { Tx } from '../platform/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

/** The same as `listStickers`, for the car `k` of the statement around it. */
export const STICKERS = Prisma.sql`
  SELECT s.sticker_number FROM sign_offs s JOIN clearances sc ON sc.entry_id = s.entry_id
  WHERE sc.car_id = k.id AND s.sticker_number IS NOT NULL ORDER BY s.id`;

/** Every sticker that was given to a car at an event, in the order in which they were. */
export async function listStickers(tx: Tx, carId: string): Promise<string[]> {
  const rows = await tx.$queryRaw<{ sticker: string }[]>`
    SELECT s.sticker_number AS sticker FROM sign_offs s JOIN clearances c ON c.entry_id = s.entry_id
    WHERE c.car_id = ${carId}::uuid AND s.sticker_number IS NOT NULL ORDER BY s.id`;
  return rows.map(({ sticker }) => sticker);
}
