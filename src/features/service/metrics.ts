import { collectDefaultMetrics, Counter, Gauge, Histogram, Registry } from 'prom-client';
import { CLEARANCE_STATUSES } from '../../domain/clearance/clearance.ts';
import type { Pool } from '../../platform/database/db.ts';
import type { Backlog, LastBackup } from './metrics-store.ts';

/** Seconds; an answer at the gate takes a few thousandths, an upload some tenths. */
const BUCKETS = [0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10];
const PREFIX = 'gridworthy_';

/** What one process counts. Labels have few values each: never an address, an id, a number or a name. */
export type Meters = ReturnType<typeof createMeters>;

export function createMeters() {
  const registry = new Registry();
  const registers = [registry];
  const gauge = <T extends string = never>(name: string, help: string, labelNames: readonly T[] = []) =>
    new Gauge<T>({ name: PREFIX + name, help, labelNames, registers });
  const lookups = new Counter({
    name: `${PREFIX}gate_lookups_total`,
    help: 'Answers at the gate to one car number, by what they said',
    labelNames: ['status'],
    registers,
  });
  // A status that was never answered reads 0 and not nothing, so that a first one shows as a rise.
  for (const status of [...CLEARANCE_STATUSES, 'unknown']) lookups.inc({ status }, 0);
  return {
    registry,
    lookups,
    durations: new Histogram({
      name: `${PREFIX}http_request_duration_seconds`,
      help: 'Time to answer, by route pattern and class of status; live streams are left out',
      labelNames: ['method', 'route', 'status'],
      buckets: BUCKETS,
      registers,
    }),
    streams: gauge('streams_open', 'Live streams that are open'),
    database: gauge('database_up', '1 when the database answered this scrape, 0 when it did not'),
    backlog: {
      waiting: gauge('outbox_waiting_rows', 'Jobs that the queue has not taken yet'),
      failing: gauge('outbox_failing_rows', 'Of these, jobs that the queue failed to take at least once'),
      oldestWaitingSeconds: gauge('outbox_oldest_waiting_seconds', 'Age of the oldest of these'),
      unfinished: gauge('jobs_unfinished_rows', 'Jobs that are due, taken by the queue and not done'),
      oldestUnfinishedSeconds: gauge('jobs_oldest_unfinished_seconds', 'For how long the oldest of these is due'),
      failed: gauge('jobs_failed_rows', 'Jobs of the last 30 days that failed for good'),
    } satisfies Record<keyof Backlog, Gauge>,
    lastBackup: {
      ageSeconds: gauge(
        'backup_age_seconds',
        'Since the newest backup was begun that was finished; NaN when there is none',
      ),
      bytes: gauge('backup_bytes', 'Its size'),
      good: gauge(
        'backup_good',
        '1 when it was brought back into a scratch database, 0.5 when only read to its end, 0 when neither',
      ),
      failedSince: gauge('backup_failed_since', 'Tries since then that ended without a backup'),
    } satisfies Record<keyof LastBackup, Gauge>,
    connections: gauge('db_connections', 'Database connections of the shared pool', ['state']),
    connectionsMax: gauge('db_connections_max', 'Most connections of the shared pool'),
    connectionWaiters: gauge('db_connection_waiters', 'Who waits for a connection of the shared pool'),
    build: gauge('build_info', '1, with what is running', ['version', 'node']),
  };
}

/** Event loop delay, memory, garbage collection, file handles: measured from now on. */
export function watchProcess({ registry }: Meters): void {
  collectDefaultMetrics({ register: registry });
}

export function setPool({ connections, connectionsMax, connectionWaiters }: Meters, pool: Pool): void {
  connections.set({ state: 'in-use' }, pool.totalCount - pool.idleCount);
  connections.set({ state: 'idle' }, pool.idleCount);
  connectionsMax.set(pool.options.max);
  connectionWaiters.set(pool.waitingCount);
}

/** @param found undefined when the database did not answer: what is unknown reads NaN, not 0 */
export function setBacklog({ backlog, database }: Meters, found: Backlog | undefined): void {
  database.set(found === undefined ? 0 : 1);
  for (const [name, meter] of Object.entries(backlog)) meter.set(found?.[name as keyof Backlog] ?? Number.NaN);
}

/** @param found undefined when there is none, or the database did not answer: NaN */
export function setLastBackup({ lastBackup }: Meters, found: LastBackup | undefined): void {
  for (const [name, meter] of Object.entries(lastBackup)) meter.set(found?.[name as keyof LastBackup] ?? Number.NaN);
}
