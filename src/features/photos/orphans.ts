import type { Deps } from '../../deps.ts';
import { findDatabaseName, findNamedHashes } from './store.ts';
import { removedPhotosKeptSince } from './read.ts';

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
