import type { Tx } from '../platform/database/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';

/** Photos that count, by catalogue key. */
export type PhotoCounts = Readonly<Record<string, number>>;

/**
 * The photos of entry `e` by item, as jsonb. One picture counts once for an item, at however many positions it was sent:
 * a rule that asks for four photos wants four pictures.
 */
export const PHOTO_COUNTS = Prisma.sql`
  COALESCE((
    SELECT jsonb_object_agg(n.item_key, n.pictures)
    FROM (
      SELECT p.item_key, count(DISTINCT p.content_hash) AS pictures
      FROM photos p WHERE p.entry_id = e.id AND p.removed_at IS NULL GROUP BY p.item_key
    ) n
  ), '{}'::jsonb)`;

/** A photo where it is mentioned beside something else. */
export interface NamedPhoto {
  photoId: string;
  item: string;
  position?: string;
}

/** The photos of an entry that count, oldest first. */
export async function listPhotos(db: Tx, entryId: string): Promise<NamedPhoto[]> {
  const rows = await db.photo.findMany({
    where: { entryId, removedAt: null },
    select: { id: true, itemKey: true, position: true },
    orderBy: { id: 'asc' },
  });
  return rows.map(({ id, itemKey, position }) => ({
    photoId: id,
    item: itemKey,
    ...(position === null ? {} : { position }),
  }));
}
