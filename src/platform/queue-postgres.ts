import { createPostgresBackend, runMigrations, withBackend } from 'bullmq';
import pg from 'pg';
import { surviveLostConnections } from './db.ts';
import type { Logger } from './logger.ts';
import { type JobData, QUEUE_NAME, type QueueDriver } from './queue-driver.ts';

const SCHEMA = 'bullmq';

/** The queue in the schema `bullmq` of a PostgreSQL database, on a small pool of its own. */
export function postgresDriver(databaseUrl: string, log: Logger): QueueDriver {
  const { Queue, Worker } = withBackend(createPostgresBackend);
  const pool = openPool(databaseUrl, log);
  let migrated: Promise<void> | undefined;
  return {
    kind: 'postgres',
    async ready() {
      migrated ??= migrate(pool);
      try {
        await migrated;
      } catch (error) {
        migrated = undefined;
        throw error;
      }
    },
    makeQueue: () => new Queue<JobData, void>(QUEUE_NAME, { connection: pool }),
    makeWorker: (processor, tuning) =>
      new Worker<JobData, void>(QUEUE_NAME, processor, {
        connection: pool,
        ...tuning,
        runRetryDelay: 1000,
      }),
    async ping() {
      await pool.query('SELECT 1');
    },
    close: () => pool.end(),
  };
}

function openPool(databaseUrl: string, log: Logger): pg.Pool {
  const pool = new pg.Pool({
    connectionString: databaseUrl,
    // One is taken for good by the worker, which listens on it.
    max: 6,
    // BullMQ sets this itself only on pools that it opens.
    options: `-c search_path=${SCHEMA}`,
    application_name: 'gridworthy-queue',
    connectionTimeoutMillis: 5000,
    query_timeout: 15_000,
    statement_timeout: 10_000,
    idle_in_transaction_session_timeout: 20_000,
    keepAlive: true,
  });
  surviveLostConnections(pool, (error) => log.warn({ error }, 'queue connection lost'));
  return pool;
}

async function migrate(pool: pg.Pool): Promise<void> {
  const client = await pool.connect();
  try {
    await runMigrations(client, SCHEMA);
  } finally {
    client.release();
  }
}
