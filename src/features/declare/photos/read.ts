import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { decideClearance } from '../../../domain/clearance/decide-clearance.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { PhotoStoreError } from '../../../platform/photos/photo-store.ts';
import { assertNoInterest } from '../../../records/conflict-of-interest.ts';
import { type LockedEntry, lockEntry, stateOf } from '../../../records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../../records/history/history.ts';
import {
  findDatabaseName,
  findNamedHashes,
  findPhoto,
  findPhotoEntry,
  isNewestSignedOff,
  listEntryPhotos,
  type Photo,
  updateRemoved,
} from './store.ts';

/** Files of removed photos stay so long, for whoever must look into it. */
const KEPT_DAYS = 30;
const RETRY_AFTER_SECONDS = 30;

/** Photos removed before this instant are gone for good. */
export function removedPhotosKeptSince(now: Date): Date {
  return new Date(now.getTime() - KEPT_DAYS * 86_400_000);
}

/**
 * Asks the store of the photos.
 *
 * @throws ProblemError `photo-store-unavailable`
 */
export async function askStore<T>(deps: Deps, ask: (store: Deps['photos']) => Promise<T>): Promise<T> {
  try {
    return await ask(deps.photos);
  } catch (error) {
    if (!(error instanceof PhotoStoreError)) throw error;
    deps.log.error({ error }, 'photo store failed');
    const wait = { 'retry-after': String(RETRY_AFTER_SECONDS) };
    throw new ProblemError('photo-store-unavailable', 'The store of the photos does not answer.', {}, wait);
  }
}

/**
 * The photos of an entry.
 *
 * @throws ProblemError `not-found`
 */
export async function listPhotosOf(deps: Deps, entryId: string): Promise<Photo[]> {
  const db = deps.db.prisma;
  if ((await findPhotoEntry(db, entryId)) === undefined) throw notFound('entry');
  return listEntryPhotos(db, entryId);
}

/**
 * One photo that the caller may see; another's looks like none.
 *
 * @throws ProblemError `not-found`
 */
export async function getPhoto(deps: Deps, actor: Actor, photoId: string): Promise<Photo> {
  const photo = await findPhoto(deps.db.prisma, photoId);
  const hidden = actor.role === 'entrant' && photo?.entryId !== actor.entryId;
  if (photo === undefined || hidden) throw notFound('photo');
  return photo;
}

/**
 * The picture of a photo.
 *
 * @throws ProblemError `photo-store-unavailable`, also when the store has lost it
 */
export async function getPicture(deps: Deps, photo: Photo): Promise<Buffer> {
  return askStore(deps, async (store) => {
    const bytes = await store.get(photo.hash);
    if (bytes === undefined) throw new PhotoStoreError(`photo ${photo.hash} is missing`);
    return bytes;
  });
}

/**
 * Takes a photo away: from now on it counts for nothing and is served to nobody. What was judged with it stays as it was
 * judged; the line judges with the photos that are there.
 *
 * An entrant removes photos that an entrant sent, until the line has decided about the newest revision. A chief removes
 * any, except of a car of the own.
 *
 * @throws ProblemError `not-found`, `forbidden` (sent by the staff), `conflict-of-interest`, `state-moved-on`
 */
export async function removePhoto(
  deps: Deps,
  actor: Actor,
  { photoId, requestId }: { photoId: string; requestId: string },
): Promise<void> {
  const photo = await getPhoto(deps, actor, photoId);
  await inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntry(tx, photo.entryId);
    if (entry === undefined) throw notFound('photo');
    const now = deps.clock.now();
    if (actor.role === 'entrant') await assertEntrantMay(tx, entry, photo, now);
    else await assertNoInterest(tx, actor, entry.entryId);
    if (!(await updateRemoved(tx, photoId, now))) throw notFound('photo');
    const { item, position, hash } = photo;
    const data = { photoId, item, ...(position === undefined ? {} : { position }), hash };
    await recordEntryHistory(tx, entry, { actor, at: now, action: 'photo.removed', data, requestId });
  });
}

async function assertEntrantMay(tx: Tx, entry: LockedEntry, photo: Photo, now: Date): Promise<void> {
  if (photo.uploadedRole !== 'entrant') {
    throw new ProblemError(
      'forbidden',
      `This photo was sent by the ${photo.uploadedRole}; a chief inspector removes it.`,
    );
  }
  if (!(await isNewestSignedOff(tx, entry.entryId))) return;
  const { status } = decideClearance(stateOf(entry), now);
  const detail = 'The line has decided about this car with its photos; a chief inspector removes them.';
  throw new ProblemError('state-moved-on', detail, { currentState: status });
}

const DAY_MS = 86_400_000;

/**
 * Says that the folder of the photos belongs to the database of this process, unless another said so before. Asked before
 * photos are stored or tidied, so that a server on another database never takes them for files that nobody names.
 */
export async function claimFolder({ db, photos }: Pick<Deps, 'db' | 'photos'>): Promise<boolean> {
  const name = await findDatabaseName(db.pool);
  if (photos.folder === undefined || name === undefined) return false;
  return photos.folder.claim(name);
}

/**
 * Removes files of photos that nobody put since a day and that no photo on record names: left by uploads that were
 * interrupted or refused, and by photos removed 30 days ago. Returns how many. An object store is left alone.
 */
export async function removeOrphanPhotos(
  deps: Pick<Deps, 'db' | 'photos' | 'clock' | 'log'>,
  signal?: AbortSignal,
): Promise<number> {
  const { folder } = deps.photos;
  if (folder === undefined || !(await folder.exists())) return 0;
  if (!(await claimFolder(deps))) {
    deps.log.warn('the folder of the photos belongs to another database: it is not tidied');
    return 0;
  }
  const now = deps.clock.now();
  const before = new Date(now.getTime() - DAY_MS);
  await folder.recover(before);
  let removed = 0;
  for await (const hashes of folder.listOlderThan(before)) {
    if (signal?.aborted === true) break;
    const named = await findNamedHashes(deps.db.pool, hashes, removedPhotosKeptSince(now));
    for (const hash of hashes) {
      if (!named.has(hash) && (await folder.removeOlderThan(hash, before))) removed += 1;
    }
  }
  if (removed > 0) deps.log.info({ removed }, 'photos that nobody names were removed');
  return removed;
}
