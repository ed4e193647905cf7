import { z } from 'zod';
import type { Tx } from '../platform/database/db.ts';
import { Prisma } from '../platform/prisma-client/client.ts';
import type { Said } from '../domain/declaration/basis.ts';
import { Id, InstantOut } from '../http/frame/common-schemas.ts';

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

/** Who of a shop stands for answers of an entry. */
export interface Signature {
  signatureId: string;
  shop: string;
  name: string;
  /** RFC 3339 in UTC */
  signedAt: string;
}

/** `Signature[]` of the entry `e` of the statement around it, oldest first. */
export const SIGNATURES = Prisma.sql`COALESCE((
  SELECT jsonb_agg(jsonb_build_object('signatureId', ss.id, 'shop', ss.shop_name, 'name', ss.name, 'signedAt',
    to_char(ss.signed_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"')) ORDER BY ss.signed_at, ss.id)
  FROM shop_signatures ss WHERE ss.entry_id = e.id), '[]'::jsonb)`;

/** The signatures that stand behind answers of an entry; nothing is read where there are none. */
export async function findSignatures(db: Tx, entryId: string, said: Said): Promise<Signature[]> {
  if (Object.keys(said).length === 0) return [];
  const rows = await db.$queryRaw<{ signatures: Signature[] }[]>`
    SELECT ${SIGNATURES} AS signatures FROM entries e WHERE e.id = ${entryId}::uuid`;
  return rows[0]?.signatures ?? [];
}

/** Who said what: the answers that a shop signed, by signature. */
export const SaidView = z
  .array(
    z.object({
      signatureId: Id.describe('Id of the signature'),
      shop: z.string().describe('Name of the shop'),
      name: z.string().describe('Who signed'),
      signedAt: InstantOut.describe('When'),
      places: z
        .array(z.string())
        .describe('What it stands for: `oil.grade`, `pad.thickness@FL.in`. Such an answer was not changed since'),
    }),
  )
  .describe('Answers that a shop signed; all others are those of whoever declares');
export type SaidView = z.infer<typeof SaidView>;

export function viewSaid(said: Said, signatures: readonly Signature[]): SaidView {
  const places = Object.entries(said);
  return signatures
    .map((one) => ({ ...one, places: places.flatMap(([place, by]) => (by === one.signatureId ? [place] : [])) }))
    .filter((one) => one.places.length > 0);
}
