import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Redis } from 'ioredis';

export type TestRedis = {
  url: string;
  /** Ends the server at once, without saving: what a crash does. */
  crash(): Promise<void>;
  /** Ends it as an operator does: it writes all it has and closes its connections. */
  end(): Promise<void>;
  /** Starts it again on the same port, with what its append-only file holds. */
  restart(): Promise<void>;
  stop(): Promise<void>;
};

export const REDIS_SKIPPED = 'SKIPPED: redis-server not found';

/** Whether this machine can run the Redis half of the queue tests; says so when it cannot. */
export function hasRedis(): boolean {
  try {
    execFileSync('redis-server', ['--version'], { stdio: 'ignore' });
    return true;
  } catch {
    process.stdout.write(`${REDIS_SKIPPED}\n`);
    return false;
  }
}

/** A Redis of its own on a free port, with an append-only file, as the service wants it. */
export async function startRedis(atPort?: number): Promise<TestRedis> {
  const folder = mkdtempSync(join(tmpdir(), 'gridworthy-redis-'));
  const port = atPort ?? (await freePort());
  const url = `redis://127.0.0.1:${port}`;
  let server: ChildProcess | undefined;
  const start = async () => {
    const settings = ['--bind', '127.0.0.1', '--port', String(port), '--dir', folder, '--save', ''];
    server = spawn('redis-server', [...settings, '--appendonly', 'yes', '--appendfsync', 'always'], {
      stdio: 'ignore',
    });
    await answers(url);
  };
  const endBy = (signal: 'SIGKILL' | 'SIGTERM') => async () => {
    if (server === undefined || server.exitCode !== null || server.signalCode !== null) return;
    const ended = once(server, 'exit');
    server.kill(signal);
    await ended;
  };
  const crash = endBy('SIGKILL');
  await start();
  return {
    url,
    crash,
    end: endBy('SIGTERM'),
    restart: start,
    async stop() {
      await crash();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

async function answers(url: string): Promise<void> {
  const client = new Redis(url, { retryStrategy: () => 50, maxRetriesPerRequest: 200 });
  client.on('error', () => undefined);
  await client.ping();
  client.disconnect();
}

export function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const probe = createServer();
    probe.once('error', reject);
    probe.listen(0, '127.0.0.1', () => {
      const address = probe.address();
      probe.close(() => resolve(typeof address === 'object' && address !== null ? address.port : 0));
    });
  });
}
