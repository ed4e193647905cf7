import { join } from 'node:path';
import type { Config } from './config.ts';
import type { Clock } from './platform/clock.ts';
import { type DatabaseClock, openDatabaseClock } from './platform/database-clock.ts';
import { type Database, openDatabase } from './platform/db.ts';
import type { Logger } from './platform/logger.ts';
import { openPhotoBucket } from './platform/photo-store-bucket.ts';
import { openPhotoFolder } from './platform/photo-store-folder.ts';
import type { PhotoStore } from './platform/photo-store.ts';

/** What use cases and jobs work with. Wired here, by hand, and handed down. */
export interface Deps {
  config: Config;
  db: Database;
  clock: Clock;
  log: Logger;
  photos: PhotoStore;
}

/**
 * Opens everything the process needs. Nothing connects before it is used; `db.close` gives it all back. The clock goes
 * with the database's once it is started.
 */
export function openDeps(config: Config, databaseUrl: string, log: Logger): Deps & { clock: DatabaseClock } {
  const db = openDatabase({ url: databaseUrl, poolSize: config.poolSize, log });
  return { config, db, clock: openDatabaseClock(db.pool, log), log, photos: openPhotoStore(config) };
}

/** Where photos lie: the object store of the settings, or a folder beside the database. */
export function openPhotoStore({ photoBucket, dataDir }: Pick<Config, 'photoBucket' | 'dataDir'>): PhotoStore {
  return photoBucket === undefined ? openPhotoFolder(join(dataDir, 'photos')) : openPhotoBucket(photoBucket);
}
