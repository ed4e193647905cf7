import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../../domain/actor.ts';
import type { ClearanceFacts } from '../../../domain/clearance/clearance.ts';
import type { Vehicle } from '../../../domain/vehicle.ts';
import type { Pool, Tx } from '../../../platform/database/db.ts';

/** A photo as it is on record. */
export interface Photo {
  photoId: string;
  entryId: string;
  item: string;
  position: string | undefined;
  hash: string;
  mediaType: string;
  /** pixels */
  width: number;
  height: number;
  bytes: number;
  uploadedRole: string;
  uploadedName: string;
  uploadedAt: Date;
}

type Row = Awaited<ReturnType<Tx['photo']['findUniqueOrThrow']>>;

function toPhoto(row: Row): Photo {
  return {
    photoId: row.id,
    entryId: row.entryId,
    item: row.itemKey,
    position: row.position ?? undefined,
    hash: row.contentHash,
    mediaType: row.mediaType,
    width: row.width,
    height: row.height,
    bytes: row.bytes,
    uploadedRole: row.uploadedRole,
    uploadedName: row.uploadedName,
    uploadedAt: row.uploadedAt,
  };
}

/** What deciding about a photo of an entry needs to know; undefined when there is no such entry. */
export async function findPhotoEntry(
  db: Tx,
  entryId: string,
): Promise<{ vehicle: Vehicle; withdrawn: boolean } | undefined> {
  const row = await db.entry.findUnique({
    where: { id: entryId },
    select: { vehicle: { select: { record: true } }, clearance: { select: { facts: true } } },
  });
  if (row === null || row.clearance === null) return undefined;
  // both are written by us only, from typed values
  return {
    vehicle: row.vehicle.record as unknown as Vehicle,
    withdrawn: (row.clearance.facts as unknown as ClearanceFacts).withdrawn,
  };
}

/** How many photos an entry has, and how many removed ones are still kept since `keptSince`. */
export async function countPhotos(
  db: Tx,
  entryId: string,
  keptSince: Date,
): Promise<{ counting: number; removed: number }> {
  const [counting, removed] = [
    await db.photo.count({ where: { entryId, removedAt: null } }),
    await db.photo.count({ where: { entryId, removedAt: { gt: keptSince } } }),
  ];
  return { counting, removed };
}

/** Where a photo belongs and what it shows. */
export interface PhotoPlace {
  entryId: string;
  item: string;
  position: string | undefined;
}

/** The same picture at the same place, if it is there already. */
export async function findSamePhoto(db: Tx, place: PhotoPlace, hash: string): Promise<Photo | undefined> {
  const { entryId, item, position } = place;
  const row = await db.photo.findFirst({
    where: { entryId, itemKey: item, position: position ?? null, contentHash: hash, removedAt: null },
  });
  return row === null ? undefined : toPhoto(row);
}

export async function insertPhoto(
  tx: Tx,
  photo: PhotoPlace & Pick<Photo, 'hash' | 'mediaType' | 'width' | 'height' | 'bytes'> & { actor: Actor; at: Date },
): Promise<Photo> {
  const { entryId, item, position, hash, mediaType, width, height, bytes, actor, at } = photo;
  const row = await tx.photo.create({
    data: {
      id: uuidV7(),
      entryId,
      itemKey: item,
      position: position ?? null,
      contentHash: hash,
      mediaType,
      width,
      height,
      bytes,
      uploadedBy: actor.tokenId,
      uploadedRole: actor.role,
      uploadedName: actor.name,
      uploadedAt: at,
    },
  });
  return toPhoto(row);
}

/** A photo that was not removed. */
export async function findPhoto(db: Tx, photoId: string): Promise<Photo | undefined> {
  const row = await db.photo.findUnique({ where: { id: photoId, removedAt: null } });
  return row === null ? undefined : toPhoto(row);
}

/** The photos of an entry that were not removed, oldest first. */
export async function listEntryPhotos(db: Tx, entryId: string): Promise<Photo[]> {
  return (await db.photo.findMany({ where: { entryId, removedAt: null }, orderBy: { id: 'asc' } })).map(toPhoto);
}

/** Marks a photo as removed; returns whether it was there. */
export async function updateRemoved(tx: Tx, photoId: string, at: Date): Promise<boolean> {
  const { count } = await tx.photo.updateMany({ where: { id: photoId, removedAt: null }, data: { removedAt: at } });
  return count === 1;
}

/** Whether the line has decided about the newest revision of an entry. */
export async function isNewestSignedOff(db: Tx, entryId: string): Promise<boolean> {
  const newest = await db.inspection.findFirst({
    where: { entryId },
    orderBy: { revision: 'desc' },
    select: { _count: { select: { signOffs: true } } },
  });
  return newest !== null && newest._count.signOffs > 0;
}

/** Of these contents those that a photo names which counts, or was removed after `keptSince`. */
export async function findNamedHashes(pool: Pool, hashes: readonly string[], keptSince: Date): Promise<Set<string>> {
  const { rows } = await pool.query<{ content_hash: string }>(
    `SELECT DISTINCT content_hash FROM photos
      WHERE content_hash = ANY ($1) AND (removed_at IS NULL OR removed_at > $2)`,
    [hashes, keptSince],
  );
  return new Set(rows.map((row) => row.content_hash));
}

/** A name of this database that a copy of it has too, and no other database. */
export async function findDatabaseName(pool: Pool): Promise<string | undefined> {
  const { rows } = await pool.query<{ id: string }>(
    'SELECT id FROM public._prisma_migrations ORDER BY started_at, id LIMIT 1',
  );
  return rows[0]?.id;
}
