import { execFileSync } from 'node:child_process';
import { chmod, mkdtemp, open, rm, statfs } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import { type EmbeddedPostgres, startEmbeddedPostgres } from '../../src/platform/embedded-postgres.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { findPostgresIn } from '../../src/platform/postgres/process-identity.ts';
import { pause } from './request.ts';

/** A PostgreSQL server of the harness, which the service knows only by its address. */
export interface ExternalDatabase {
  /** address past every proxy */
  url(): string;
  port(): number;
  /** all its processes as they are now */
  pids(): number[];
  /** ends it as a crash does (`SIGQUIT`: immediate shutdown) and starts it again after a while */
  crash(signal: 'SIGKILL' | 'SIGQUIT', downMs: number): Promise<void>;
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
  const smallDisk = mountSmallDisk(folder);
  const dataDir = join(folder, 'data');
  const log = createLogger({ level: 'silent' });
  const start = () => startEmbeddedPostgres({ dataDir, log, settings: SETTINGS });
  let server: EmbeddedPostgres = await start();
  const pids = () => findPostgresIn(join(dataDir, 'postgres'));
  const restart = async () => {
    await server.stop();
    server = await start();
  };
  return {
    url: () => server.url,
    port: () => server.port,
    pids,
    smallDisk,
    async crash(signal, downMs) {
      signalAll([server.pid], signal);
      while (pids().includes(server.pid)) await pause(10);
      await pause(downMs);
      await restart();
    },
    async fill(forMs) {
      const free = await fillUp(join(folder, 'filler'));
      await pause(forMs);
      await free();
      // A server that could not write its log has ended, or is starting again by itself.
      if (!(await answers(server.url))) await restart();
    },
    async close() {
      await server.stop();
      if (smallDisk) execFileSync('umount', [folder]);
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

function mountSmallDisk(folder: string): boolean {
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${DISK},mode=0711`, 'tmpfs', folder], { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
}

/** Writes a file until nothing fits any more; the function that is given back deletes it. */
async function fillUp(path: string): Promise<() => Promise<void>> {
  const { bavail, bsize } = await statfs(join(path, '..'));
  const block = Buffer.alloc(256 * 1024);
  const file = await open(path, 'w');
  try {
    for (let left = bavail * bsize + block.length; left > 0; left -= block.length) await file.write(block);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error;
  } finally {
    await file.close();
  }
  return () => rm(path, { force: true });
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
