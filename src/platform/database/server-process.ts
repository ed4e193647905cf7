import type { ChildProcess } from 'node:child_process';
import { copyFile, open, readFile, stat, truncate } from 'node:fs/promises';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { endsWithin, pause } from '../clock.ts';
import type { Binaries, Launcher } from './launcher.ts';

export type ServerProcess = {
  port: number;
  pid: number;
  /** Resolves when the process has ended, for whatever reason. */
  ended: Promise<void>;
  stop(): Promise<void>;
};

type Plan = {
  binaries: Binaries;
  launcher: Launcher;
  folder: string;
  logFile: string;
  settings: Record<string, string>;
};

const START_TRIES = 5;
const READY_TIMEOUT_MS = 60_000;
const LOG_FILE_LIMIT_BYTES = 10_000_000;
const LOG_FILE_LOOK_MS = 600_000;
const SETTINGS = {
  // No folder is shared with other users, so there is no socket file, only TCP on this machine.
  unix_socket_directories: '',
  listen_addresses: '127.0.0.1',
  max_connections: '100',
  shared_buffers: '128MB',
  timezone: 'UTC',
  log_timezone: 'UTC',
  jit: 'off',
};

/**
 * Starts PostgreSQL on a data folder at a free port of 127.0.0.1 and waits until it accepts connections. A port that
 * another process took in between, and memory that a killed server has not given back yet, are tried again.
 *
 * @throws Error with the end of the server's log
 */
export async function startServerProcess(plan: Plan): Promise<ServerProcess> {
  await keepLogSmall(plan.logFile);
  for (let attempt = 1; ; attempt += 1) {
    const outcome = await tryStart(plan);
    if ('server' in outcome) return outcome.server;
    const passing = /could not bind|Address already in use|pre-existing shared memory block/.test(outcome.log);
    if (!passing || attempt >= START_TRIES) {
      throw new Error(`The embedded PostgreSQL did not start; the end of ${plan.logFile}:\n${outcome.log}`);
    }
    await pause(200 * attempt);
  }
}

async function tryStart(plan: Plan): Promise<{ server: ServerProcess } | { log: string }> {
  const port = await freePort();
  const settings = Object.entries({ ...SETTINGS, ...plan.settings, port: String(port) });
  const args = ['-D', plan.folder, ...settings.flatMap(([name, value]) => ['-c', `${name}=${value}`])];
  const log = await open(plan.logFile, 'a', 0o600);
  const from = (await log.stat()).size;
  const child = plan.launcher.start(plan.binaries.postgres, args, log.fd);
  const ended = new Promise<void>((resolve) => {
    child.once('exit', () => resolve());
    child.once('error', () => resolve());
  });
  await log.close();
  if (await isReady(plan.folder, child, ended)) {
    // Only the HTTP server should keep this process alive.
    child.unref();
    const looking = setInterval(() => void keepLogSmall(plan.logFile).catch(() => undefined), LOG_FILE_LOOK_MS);
    looking.unref();
    void ended.then(() => clearInterval(looking));
    return { server: { port, pid: child.pid ?? 0, ended, stop: () => stopChild(child, ended) } };
  }
  await stopChild(child, ended);
  const text = await readFile(plan.logFile, 'utf8').catch(() => '');
  return { log: Buffer.from(text).subarray(from).toString().slice(-2000) };
}

// PostgreSQL writes `ready` into the eighth line of its pid file when it accepts connections.
async function isReady(folder: string, child: ChildProcess, ended: Promise<void>): Promise<boolean> {
  const over = new AbortController();
  void ended.then(() => over.abort());
  const deadline = performance.now() + READY_TIMEOUT_MS;
  while (!over.signal.aborted && performance.now() < deadline) {
    const lines = (await readFile(join(folder, 'postmaster.pid'), 'utf8').catch(() => '')).split('\n');
    if (lines[0] === String(child.pid) && lines[7]?.trim() === 'ready') return true;
    await pause(10);
  }
  return false;
}

async function stopChild(child: ChildProcess, ended: Promise<void>): Promise<void> {
  if (child.pid === undefined) return;
  for (const { signal, waitMs } of [
    { signal: 'SIGINT', waitMs: 15_000 },
    { signal: 'SIGQUIT', waitMs: 5000 },
    { signal: 'SIGKILL', waitMs: 5000 },
  ] as const) {
    if (child.exitCode !== null || child.signalCode !== null) return;
    child.kill(signal);
    if (await endsWithin(waitMs, ended)) return;
  }
}

/**
 * A log that has grown too long becomes the one before it, and begins anew; the one before that goes. PostgreSQL goes on
 * writing to the same file, so it is copied and emptied: lines of that instant may be lost.
 */
export async function keepLogSmall(path: string, limitBytes = LOG_FILE_LIMIT_BYTES): Promise<void> {
  const size = await stat(path).then(
    (found) => found.size,
    () => 0,
  );
  if (size <= limitBytes) return;
  await copyFile(path, `${path}.1`);
  await truncate(path);
}

function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const probe = createServer();
    probe.once('error', reject);
    probe.listen(0, '127.0.0.1', () => {
      const address = probe.address();
      probe.close(() => resolve(typeof address === 'object' && address !== null ? address.port : 0));
    });
  });
}
