import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { findItem, itemApplies, positionsFor } from '../../domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../domain/catalogue/item.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { type FieldError, nameFaults, notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import type { StoredImage } from '../../platform/photos/photo-image.ts';
import { contentHash } from '../../platform/photos/photo-store.ts';
import { entryWithdrawn, lockEntryForChange } from '../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import type { Convert } from './convert.ts';
import { claimFolder } from './orphans.ts';
import type { SentPicture } from './schemas.ts';
import { countPhotos, findPhotoEntry, findSamePhoto, insertPhoto, type Photo, type PhotoPlace } from './store.ts';
import { askStore, removedPhotosKeptSince } from './read.ts';

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
  await recordEntryHistory(tx, entry, { actor, at: now, action: 'photo.added', data, requestId });
  return { photo, added: true };
}

/**
 * Checks that the car has what a photo is said to show. The position may be left out (a photo of all of it), and a wheel
 * stands for what is asked at several places of it.
 *
 * @throws ProblemError `not-acceptable`
 */
function assertPlace(item: string, position: string | undefined, vehicle: Vehicle): void {
  const fault = placeFault(item, position, vehicle);
  if (fault === undefined) return;
  throw new ProblemError('not-acceptable', `In the query: ${nameFaults([fault])}`, { errors: [fault] });
}

function placeFault(key: string, position: string | undefined, vehicle: Vehicle): FieldError | undefined {
  const item = findItem(key);
  if (item === undefined) return fault('/item', 'unknown-item', 'The catalogue has no such item.');
  if (!itemApplies(item, vehicle)) return fault('/item', 'not-applicable', 'This item does not apply to this car.');
  if (position === undefined) return undefined;
  const positions = positionsFor(item, vehicle);
  if (positions === undefined) return fault('/position', 'unknown-position', 'This item has no positions.');
  const wheels: readonly string[] = POSITION_KEYS.wheel;
  const isWheel = wheels.includes(position) && positions.some((one) => one.startsWith(`${position}.`));
  if (isWheel || positions.includes(position)) return undefined;
  return fault('/position', 'unknown-position', `Give one of: ${positions.join(', ')}.`);
}

function fault(pointer: string, code: string, detail: string): FieldError {
  return { pointer, code, detail, in: 'query' };
}
