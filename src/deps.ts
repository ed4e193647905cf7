import type { Config } from './config.ts';
import { type Clock, systemClock } from './platform/clock.ts';
import { type Database, openDatabase } from './platform/db.ts';
import type { Logger } from './platform/logger.ts';

/** What use cases and jobs work with. Wired here, by hand, and handed down. */
export interface Deps {
  config: Config;
  db: Database;
  clock: Clock;
  log: Logger;
}

/** Opens everything the process needs. Nothing connects before it is used; `close` gives it all back. */
export function openDeps(config: Config, databaseUrl: string, log: Logger): Deps {
  return { config, db: openDatabase({ url: databaseUrl, poolSize: config.poolSize, log }), clock: systemClock, log };
}
