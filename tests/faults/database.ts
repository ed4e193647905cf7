import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import { type EmbeddedPostgres, startEmbeddedPostgres } from '../../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { findPostgresIn } from '../../src/platform/database/server-lock.ts';
import { pause } from './request.ts';
import { mountSmallDisk } from './small-disk.ts';

/** `SIGINT`: it says good-bye to everybody, writes all it has and ends (fast shutdown); `SIGQUIT`: immediate shutdown. */
export type EndSignal = 'SIGKILL' | 'SIGQUIT' | 'SIGINT';

/** A PostgreSQL server of the harness, which the service knows only by its address. */
export interface ExternalDatabase {
  /** address past every proxy */
  url(): string;
  port(): number;
  /** all its processes as they are now */
  pids(): number[];
  /** ends it and starts it again after a while */
  crash(signal: EndSignal, downMs: number): Promise<void>;
  /** fills its disk for a while; only where `smallDisk` */
  fill(forMs: number): Promise<void>;
  smallDisk: boolean;
  close(): Promise<void>;
}

// What a process wrote survives the process, so the disk itself need not be waited for. Commits are still written
// before they are acknowledged: synchronous_commit stays on.
const SETTINGS = { fsync: 'off', min_wal_size: '32MB', max_wal_size: '64MB' };
const DISK = '320m';

/** Starts PostgreSQL in a folder of its own, on a small disk of its own where the system lets us mount one. */
export async function startDatabase(): Promise<ExternalDatabase> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-faults-'));
  await chmod(folder, 0o711);
  const disk = mountSmallDisk(folder, DISK);
  const dataDir = join(folder, 'data');
  const log = createLogger({ level: 'silent' });
  const start = () => startEmbeddedPostgres({ dataDir, log, settings: SETTINGS });
  let server: EmbeddedPostgres = await start();
  const pids = () => findPostgresIn(join(dataDir, 'postgres'));
  let closed = false;
  let restarting: Promise<void> | undefined;
  const again = async () => {
    await server.stop();
    server = await start();
  };
  const restart = () => (closed ? undefined : (restarting = again()));
  return {
    url: () => server.url,
    port: () => server.port,
    pids,
    smallDisk: disk !== undefined,
    async crash(signal, downMs) {
      signalAll([server.pid], signal);
      while (pids().includes(server.pid)) await pause(10);
      await pause(downMs);
      await restart();
    },
    async fill(forMs) {
      await disk?.fill(forMs);
      // A server that could not write its log has ended, or is starting again by itself.
      if (!(await answers(server.url))) await restart();
    },
    async close() {
      closed = true;
      // A fault may be under way: what it froze must go on to be able to end.
      signalAll(pids(), 'SIGCONT');
      await restarting?.catch(() => undefined);
      await server.stop();
      disk?.unmount();
      await rm(folder, { recursive: true, force: true });
    },
  };
}

/** Sends a signal to each of the processes that still lives. */
export function signalAll(pids: readonly number[], signal: NodeJS.Signals): void {
  // 0 and 1 would be everybody.
  for (const pid of pids.filter((pid) => pid > 1)) {
    try {
      process.kill(pid, signal);
    } catch {
      // It ended in between, which is no wonder among crashes.
    }
  }
}

async function answers(url: string): Promise<boolean> {
  for (let tries = 0; tries < 20; tries += 1) {
    const client = new pg.Client({ connectionString: url, connectionTimeoutMillis: 1000 });
    client.on('error', () => undefined);
    try {
      await client.connect();
      await client.query('CREATE TEMPORARY TABLE probe (x int)');
      return true;
    } catch {
      await pause(100);
    } finally {
      await client.end().catch(() => undefined);
    }
  }
  return false;
}
