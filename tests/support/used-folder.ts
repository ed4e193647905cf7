import { execFile } from 'node:child_process';
import { chmod, mkdir, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { inject } from 'vitest';
import { applyMigrations } from '../../prisma/migrate.ts';
import { startEmbeddedPostgres } from '../../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../../src/platform/logger.ts';
import './setup/database.ts';
import { waitFor } from './wait.ts';

const run = promisify(execFile);

/**
 * Makes a folder for the data of one server as it is after a first start that wrote nothing: a migrated database that no
 * server works on, without any token. To copy it takes a tenth of the time that PostgreSQL needs to make a database.
 *
 * @param path does not exist yet; its parent does
 */
export async function copyUsedFolder(path: string): Promise<void> {
  // With owners and modes: PostgreSQL may run as another user than this process.
  await run('cp', ['-a', await usedFolder(), path]);
}

/** The one that all files of this run copy; whoever comes first makes it. */
async function usedFolder(): Promise<string> {
  const home = join(inject('testCluster').folder, 'used-folder');
  const [data, ready] = [join(home, 'data'), join(home, 'ready')];
  const isFirst = await mkdir(home).then(
    () => true,
    () => false,
  );
  if (!isFirst) {
    await waitFor('the data folder to copy', () => stat(ready).catch(() => undefined));
    return data;
  }
  await chmod(home, 0o711);
  const database = await startEmbeddedPostgres({ dataDir: data, log: createLogger({ level: 'warn' }) });
  try {
    await applyMigrations(database.url);
  } finally {
    await database.stop();
  }
  await writeFile(ready, '');
  return data;
}
