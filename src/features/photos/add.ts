import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import type { StoredImage } from '../../platform/photo-image.ts';
import { contentHash } from '../../platform/photo-store.ts';
import { entryWithdrawn, lockEntryForChange } from '../../records/entry-for-change.ts';
import { recordEvent } from '../../records/history.ts';
import type { Convert } from './convert.ts';
import { claimFolder } from './orphans.ts';
import { assertPlace } from './place.ts';
import type { SentPicture } from './schemas.ts';
import { countPhotos, findPhotoEntry, findSamePhoto, insertPhoto, type Photo, type PhotoPlace } from './store.ts';
import { askStore, removedPhotosKeptSince } from './stored.ts';

interface Upload extends PhotoPlace {
  sent: SentPicture;
  requestId: string;
}

/**
 * Keeps a photo of an entry. The file is safe before its row is written: whatever fails in between leaves a file that
 * nobody names, never a row without its picture. The same picture at the same place is kept once.
 *
 * @returns `added` false when it was there already
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn), `not-acceptable`, `too-many-photos`,
 *   `unsupported-media-type`, `photo-not-acceptable`, `photos-busy`, `photo-store-unavailable`
 */
export async function addPhoto(
  deps: Deps,
  actor: Actor,
  upload: Upload,
  convert: Convert,
): Promise<{ photo: Photo; added: boolean }> {
  await assertWanted(deps, upload);
  const image = await convert(upload.sent);
  const hash = contentHash(image.bytes);
  const there = await findSamePhoto(deps.db.prisma, upload, hash);
  if (there !== undefined) return { photo: there, added: false };
  await assertRoom(deps, deps.db.prisma, upload.entryId);
  await askStore(deps, async (store) => {
    await claimFolder(deps);
    await store.put(hash, image.bytes);
  });
  return inTransaction(deps.db.prisma, (tx) => record(tx, { deps, actor, upload, image, hash }));
}

/** Refuses what can be refused without decoding the picture. */
async function assertWanted(deps: Deps, { entryId, item, position }: Upload): Promise<void> {
  const entry = await findPhotoEntry(deps.db.prisma, entryId);
  if (entry === undefined) throw notFound('entry');
  if (entry.withdrawn) throw entryWithdrawn();
  assertPlace(item, position, entry.vehicle);
}

async function assertRoom({ config, clock }: Deps, db: Tx, entryId: string): Promise<void> {
  const most = config.photosPerEntry;
  const { counting, removed } = await countPhotos(db, entryId, removedPhotosKeptSince(clock.now()));
  if (counting >= most) {
    throw new ProblemError('too-many-photos', `This entry has ${counting} photos; at most ${most} are kept.`);
  }
  // Removed ones take their place in the store for a while.
  if (removed >= 2 * most) {
    throw new ProblemError('too-many-photos', `${removed} photos of this entry were removed lately. Wait with more.`);
  }
}

async function record(
  tx: Tx,
  what: { deps: Deps; actor: Actor; upload: Upload; image: StoredImage; hash: string },
): Promise<{ photo: Photo; added: boolean }> {
  const { deps, actor, upload, image, hash } = what;
  const { entryId, item, position, requestId } = upload;
  const entry = await lockEntryForChange(tx, entryId, 'entry');
  const there = await findSamePhoto(tx, upload, hash);
  if (there !== undefined) return { photo: there, added: false };
  await assertRoom(deps, tx, entryId);
  const now = deps.clock.now();
  const { mediaType, width, height } = image;
  const size = { mediaType, width, height, bytes: image.bytes.length };
  const photo = await insertPhoto(tx, { entryId, item, position, hash, ...size, actor, at: now });
  const data = { photoId: photo.photoId, item, ...(position === undefined ? {} : { position }), hash };
  await recordEvent(tx, entry, { actor, at: now, action: 'photo.added', data, requestId });
  return { photo, added: true };
}
