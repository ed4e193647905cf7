import { join } from 'node:path';
import type { Registry } from 'prom-client';
import type { Config } from './config.ts';
import { type Clock, type DatabaseClock, openDatabaseClock } from './platform/clock.ts';
import { type Database, openDatabase } from './platform/database/db.ts';
import type { Logger } from './platform/logger.ts';
import { openPhotoBucket, openPhotoFolder, type PhotoStore } from './platform/photos/photo-store.ts';
import type { Tracer } from './platform/telemetry/trace.ts';
import { openThreads, type ThreadOptions, type Threads } from './platform/threads/threads.ts';

/** What use cases and jobs work with. Wired here, by hand, and handed down. */
export interface Deps {
  config: Config;
  db: Database;
  /** connections for what stops a car, so that it waits for nobody else; closed with `db` */
  stops: Database;
  clock: Clock;
  log: Logger;
  photos: PhotoStore;
  /** for what a request waits for */
  threads: Threads;
  /** where this process runs jobs */
  jobs?: JobsHere;
  /** where traces are exported */
  tracer?: Tracer | undefined;
}

/** What a process can say of the jobs that it runs. */
export interface JobsHere {
  /** what it counts of them */
  registry: Registry;
  /** @throws when the queue does not answer */
  ping(): Promise<void>;
}

/** Where the threads' code lies, compiled, and their limits where they are not the usual ones. */
export type ThreadSettings = Pick<ThreadOptions, 'file'> & Partial<ThreadOptions>;

const THREADS: ThreadSettings = { file: new URL('./thread-tasks.js', import.meta.url) };

/** Connections for stops: some may wait for an entry that is being changed, and the next still gets through. */
const STOP_LANES = 4;

/**
 * Opens everything the process needs. Nothing connects before it is used; `db.close` gives it all back. The clock goes
 * with the database's once it is started.
 */
export function openDeps(
  config: Config,
  databaseUrl: string,
  log: Logger,
  settings = THREADS,
): Deps & { clock: DatabaseClock } {
  const main = openDatabase({ url: databaseUrl, poolSize: config.poolSize, log });
  const stops = openDatabase({ url: databaseUrl, poolSize: STOP_LANES, log, name: 'gridworthy-stops' });
  const close = async () => {
    await Promise.all([main.close(), stops.close()]);
  };
  const db = { ...main, close };
  const threads = openThreads({ log, ...settings });
  const clock = openDatabaseClock(db.pool, log);
  return { config, db, stops, clock, log, photos: openPhotoStore(config), threads };
}

/** Where photos lie: the object store of the settings, or a folder beside the database. */
export function openPhotoStore({ photoBucket, dataDir }: Pick<Config, 'photoBucket' | 'dataDir'>): PhotoStore {
  return photoBucket === undefined ? openPhotoFolder(join(dataDir, 'photos')) : openPhotoBucket(photoBucket);
}
