import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { PhotoStoreError } from '../../platform/photo-store.ts';
import { findPhoto, findPhotoEntry, listEntryPhotos, type Photo } from './store.ts';
import { askStore } from './stored.ts';

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
