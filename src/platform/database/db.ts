import { PrismaPg } from '@prisma/adapter-pg';
import pg, { type PoolClient } from 'pg';
import type { Logger } from '../logger.ts';
import { currentTrace } from '../telemetry/trace.ts';
import { Prisma, PrismaClient } from '../prisma-client/client.ts';
import { pause } from '../clock.ts';

const UNIQUE_VIOLATION = '23505';
const WRITE_CONFLICTS = new Set(['40001', '40P01', 'P2034']);
const LOCK_TIMEOUT = '55P03';

/**
 * Whether the database refused a second row for something that may exist once. Understands errors of the plain driver
 * and of Prisma, from model calls and from raw statements.
 *
 * @param name the constraint or unique index that must be the cause; absent: any
 */
export function isUniqueViolation(error: unknown, name?: string): boolean {
  for (const layer of layersOf(error)) {
    if (layer['code'] !== UNIQUE_VIOLATION && layer['originalCode'] !== UNIQUE_VIOLATION) continue;
    return name === undefined || constraintOf(layer) === name;
  }
  return false;
}

/**
 * Thrown by us where a transaction must be run again from its beginning, because what it locked is no longer what it is
 * about: to lock on would be against the order of locks. Counts as a write conflict.
 */
export class RunAgain extends Error {
  readonly code = '40001';
}

/** Whether the transaction lost against another one and may succeed when it is run again. */
export function isWriteConflict(error: unknown): boolean {
  return layersOf(error).some((layer) => codesOf(layer).some((code) => WRITE_CONFLICTS.has(code)));
}

/**
 * Why a statement was refused because of somebody else's change, and not for what it is: nothing was kept, and the same
 * again may succeed. `locked`: waited too long for a row that another holds; `collided`: lost against another change.
 * Undefined for everything else.
 */
export function findCollision(error: unknown): 'locked' | 'collided' | undefined {
  if (isWriteConflict(error)) return 'collided';
  return layersOf(error).some((layer) => codesOf(layer).includes(LOCK_TIMEOUT)) ? 'locked' : undefined;
}

const codesOf = (layer: Record<string, unknown>) => [String(layer['code']), String(layer['originalCode'])];

// Prisma wraps the driver's error: meta.driverAdapterError.cause has the code and the constraint.
function layersOf(error: unknown): Record<string, unknown>[] {
  const layers: Record<string, unknown>[] = [];
  const queue: unknown[] = [error];
  while (queue.length > 0 && layers.length < 10) {
    const next = queue.shift();
    if (!isRecord(next) || layers.includes(next)) continue;
    layers.push(next);
    queue.push(isRecord(next['meta']) ? next['meta']['driverAdapterError'] : undefined, next['cause']);
  }
  return layers;
}

function constraintOf(layer: Record<string, unknown>): string | undefined {
  const constraint = layer['constraint'];
  if (typeof constraint === 'string') return constraint;
  return isRecord(constraint) && typeof constraint['index'] === 'string' ? constraint['index'] : undefined;
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null;
}

const DOWN_CODES = new Set(
  (
    'ECONNREFUSED ECONNRESET EPIPE ETIMEDOUT ENOTFOUND ENOENT P1001 P1002 P1008 P1017 P2024 P2028 ' +
    '57P01 57P02 57P03 57014 53100 53200 53300 08000 08001 08003 08004 08006 25P03'
  ).split(' '),
);
/** How Prisma's adapter calls them, where an error of the driver has no code. */
const DOWN_KINDS = new Set(['ConnectionClosed', 'SocketTimeout', 'DatabaseNotReachable', 'TooManyConnections']);
const DOWN_MESSAGES = [
  'Connection terminated',
  'Server has closed the connection',
  'timeout exceeded when trying to connect',
  'Query read timeout',
  'Client has encountered a connection error',
  'Cannot use a pool after calling end',
  'Unable to start a transaction',
  "Can't reach database server",
];

/** Whether the database cannot be reached or did not answer in time: nothing was decided, trying again may help. */
export function isDatabaseDown(error: unknown): boolean {
  // Prisma reports some of these in words of its own that sound like it.
  if (findCollision(error) !== undefined) return false;
  return layersOf(error).some((layer) => {
    if (DOWN_CODES.has(String(layer['code'])) || DOWN_CODES.has(String(layer['originalCode']))) return true;
    if (DOWN_KINDS.has(String(layer['kind']))) return true;
    const { message } = layer;
    return typeof message === 'string' && DOWN_MESSAGES.some((known) => message.includes(known));
  });
}

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
// A new connection costs tens of milliseconds, and the plans of all its statements: a quiet server keeps some, a busy one all.
const KEPT_CONNECTIONS = 2;
const IDLE_TIMEOUT_MS = 300_000;

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
    min: Math.min(KEPT_CONNECTIONS, options.poolSize),
    idleTimeoutMillis: IDLE_TIMEOUT_MS,
    // What a transaction asks for without waiting goes out at once.
    pipeline: true,
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
  const trace = currentTrace();
  const run =
    trace === undefined
      ? fn
      : async (tx: Tx) => {
          await tx.$executeRaw(belongTo(trace));
          return fn(tx);
        };
  return againOnConflict(() => prisma.$transaction(run, { ...settings, isolationLevel: options.isolationLevel }));
}

/** Says to which trace a transaction belongs: what it orders and writes into a history takes it from there. */
export const belongTo = (trace: string) => Prisma.sql`SELECT set_config('gridworthy.trace', ${trace}, true)`;

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

/** How long whoever needs a database connection waits for one at the moment. */
export interface PoolWait {
  /** milliseconds: the longer of what the last look took, what this one has taken so far, and what the queue promises */
  waitMs(): number;
  stop(): void;
}

/** Weight of the newest of the times that connections were held for. */
const NEWEST = 0.05;

/**
 * Measures the queue for connections by standing in it, several times a second, and by what is in front: its length
 * times the time that connections are held for. The length alone says little: a hundred short questions are gone in a
 * moment, twenty long ones are not.
 *
 * @param everyMs pause between two looks, in milliseconds
 */
export function watchPool(pool: Pool, everyMs: number): PoolWait {
  const heldMs = watchHolding(pool);
  // Where a connection may still be opened nobody queues, however long a busy machine takes to open it.
  const isFull = () => pool.totalCount >= pool.options.max && pool.idleCount === 0;
  let last = 0;
  let since: number | undefined;
  const look = async () => {
    if (since !== undefined) return;
    since = performance.now();
    try {
      (await pool.connect()).release();
      last = performance.now() - since;
    } catch {
      // A database that is down is another problem: who needs it is told so.
      last = 0;
    }
    since = undefined;
  };
  const timer = setInterval(() => void look(), everyMs);
  timer.unref();
  return {
    waitMs() {
      if (!isFull()) return 0;
      const soFar = since === undefined ? 0 : performance.now() - since;
      return Math.max(last, soFar, (pool.waitingCount * heldMs()) / pool.options.max);
    },
    stop: () => clearInterval(timer),
  };
}

/** For how long a connection is held, in milliseconds: a mean in which the newest count most. */
function watchHolding(pool: Pool): () => number {
  const since = new WeakMap<PoolClient, number>();
  let mean = 0;
  pool.on('acquire', (client) => since.set(client, performance.now()));
  pool.on('release', (_error, client) => {
    const from = since.get(client);
    if (from !== undefined) mean += NEWEST * (performance.now() - from - mean);
  });
  return () => mean;
}
