import { PrismaPg } from '@prisma/adapter-pg';
import pg from 'pg';
import { isWriteConflict } from './db-errors.ts';
import type { Logger } from '../logger.ts';
import { type Prisma, PrismaClient } from '../prisma-client/client.ts';
import { pause } from '../wait.ts';

/** The database outside a transaction. */
export type Db = PrismaClient;
/** The database inside a transaction. Functions that accept both take `Tx`: a `Db` fits. */
export type Tx = Prisma.TransactionClient;
/** The plain driver's pool, for the few hot statements that go past Prisma. */
export type Pool = pg.Pool;

export type Database = { pool: Pool; prisma: Db; close(): Promise<void> };

const CONNECT_TIMEOUT_MS = 10_000;
const STATEMENT_TIMEOUT_MS = 10_000;
const LOCK_TIMEOUT_MS = 5000;
// Longer than one outbox batch, which waits up to 5 s for the queue inside a transaction.
const IDLE_IN_TRANSACTION_TIMEOUT_MS = 20_000;
// On our side too: a server that is frozen cannot time its own statements out.
const QUERY_TIMEOUT_MS = 15_000;
const MAX_TRIES = 3;

/**
 * Opens the pool and the Prisma client that works on that same pool. Nothing connects before the first query.
 *
 * @param options `poolSize` connections at most; every wait (connection, lock, statement) is bounded, in seconds not minutes
 * @throws nothing here; an unreachable server shows at the first query
 */
export function openDatabase(options: { url: string; poolSize: number; log: Logger; name?: string }): Database {
  const pool = new pg.Pool({
    connectionString: options.url,
    max: options.poolSize,
    // Not the queue's name, by which BullMQ counts its workers' connections.
    application_name: options.name ?? 'gridworthy-db',
    connectionTimeoutMillis: CONNECT_TIMEOUT_MS,
    query_timeout: QUERY_TIMEOUT_MS,
    statement_timeout: STATEMENT_TIMEOUT_MS,
    lock_timeout: LOCK_TIMEOUT_MS,
    idle_in_transaction_session_timeout: IDLE_IN_TRANSACTION_TIMEOUT_MS,
    keepAlive: true,
  });
  surviveLostConnections(pool, (error) => options.log.warn({ error }, 'database connection lost'));
  const prisma = new PrismaClient({
    adapter: new PrismaPg(pool, { disposeExternalPool: false }),
    // Longer formats repeat the values of the call, which must not reach a log.
    errorFormat: 'minimal',
  });
  return { pool, prisma, close: () => close(prisma, pool) };
}

/**
 * Runs `fn` in one transaction, at most 3 times when the database asks for it (serialization failure, deadlock), so
 * `fn` must not do anything that cannot be undone by a rollback, and never waits for anything but the database.
 *
 * @param options `timeoutMs` for the whole transaction, 10 000 unless told
 * @throws whatever `fn` throws; the transaction is rolled back
 */
export async function inTransaction<T>(
  prisma: Db,
  fn: (tx: Tx) => Promise<T>,
  options: { timeoutMs?: number; isolationLevel?: Prisma.TransactionIsolationLevel } = {},
): Promise<T> {
  const settings = { maxWait: CONNECT_TIMEOUT_MS, timeout: options.timeoutMs ?? 10_000 };
  return againOnConflict(() => prisma.$transaction(fn, { ...settings, isolationLevel: options.isolationLevel }));
}

/** Runs a whole transaction, at most 3 times when it lost against another one. */
export async function againOnConflict<T>(transaction: () => Promise<T>): Promise<T> {
  for (let attempt = 1; ; attempt += 1) {
    try {
      return await transaction();
    } catch (error) {
      if (attempt >= MAX_TRIES || !isWriteConflict(error)) throw error;
      // A little disorder, so that two that collided do not collide again.
      await pause(attempt * 10 + Math.random() * 40);
    }
  }
}

/**
 * Keeps a lost connection from ending the process. The pool only listens on connections that nobody uses; one that is
 * lost while its user waits for something else reports to nobody, and Node.js ends the process for that.
 */
export function surviveLostConnections(pool: Pool, report: (error: Error) => void): void {
  // While the pool closes, the server may close faster.
  pool.on('error', (error) => {
    if (!pool.ending) report(error);
  });
  // The user's next query fails, which is report enough.
  pool.on('connect', (client) => client.on('error', () => undefined));
}

async function close(prisma: Db, pool: Pool): Promise<void> {
  await prisma.$disconnect();
  if (!pool.ended) await pool.end();
}
