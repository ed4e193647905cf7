import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { runMigrations } from 'bullmq';
import pg from 'pg';
import type { TestProject } from 'vitest/node';
import { applyMigrations } from '../../../prisma/migrate.ts';
import { startEmbeddedPostgres } from '../../../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { once } from './once.ts';

declare module 'vitest' {
  interface ProvidedContext {
    /**
     * Address of the test cluster (database `postgres`), the name of its migrated template database, and a folder for
     * files that are deleted with it.
     */
    testCluster: { adminUrl: string; template: string; folder: string };
  }
}

const TEMPLATE = 'gridworthy_template';
// Nothing in a test cluster outlives the run, so it need not survive a power cut.
const SETTINGS = { fsync: 'off', synchronous_commit: 'off', full_page_writes: 'off', max_connections: '300' };

/** One PostgreSQL for the whole run, with one migrated database that tests clone. */
export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const { value, release } = await once('database', startCluster);
  project.provide('testCluster', { adminUrl: value.adminUrl, template: TEMPLATE, folder: value.folder });
  return release;
}

async function startCluster(): Promise<{ adminUrl: string; folder: string; stop(): Promise<void> }> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-test-'));
  // PostgreSQL may run as another user than this process.
  await chmod(folder, 0o711);
  const dataDir = join(folder, 'data');
  const cluster = await startEmbeddedPostgres({ dataDir, log: createLogger({ level: 'warn' }), settings: SETTINGS });
  const urlOf = (database: string) => Object.assign(new URL(cluster.url), { pathname: `/${database}` }).href;
  await run(urlOf('postgres'), (client) => client.query(`CREATE DATABASE ${TEMPLATE}`));
  await applyMigrations(urlOf(TEMPLATE));
  await run(urlOf(TEMPLATE), (client) => runMigrations(client));
  return {
    adminUrl: urlOf('postgres'),
    folder,
    async stop() {
      await cluster.stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
}

async function run(url: string, use: (client: pg.Client) => Promise<unknown>): Promise<void> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    await use(client);
  } finally {
    await client.end();
  }
}
