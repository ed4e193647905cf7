import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmod, mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { copyUsedFolder } from './used-folder.ts';
import { waitFor } from './wait.ts';

const root = dirname(dirname(dirname(fileURLToPath(import.meta.url))));
const ENTRY = join(root, 'dist/src/server.js');
const READY = 'Gridworthy is ready';
/** A machine that runs other tests beside it stalls: that is not too much for the server, unless a test says so. */
const UNSHED = { MAX_LOOP_DELAY_MS: '0', MAX_WAIT_MS: '0' };

export interface RunningServer {
  /** address without a path; empty for a process that serves nothing */
  base: string;
  /** the token that the start printed, if it printed one */
  firstToken: string | undefined;
  /** from the start of the process to the line that says it is ready */
  readyMs: number;
  /** everything written so far, both outputs */
  output(): string;
  /** the log line with this message, if it was written */
  logLine(message: string): Record<string, unknown> | undefined;
  /** sends a signal and waits for the end; gives the exit code, or null when the signal ended it */
  end(signal: NodeJS.Signals): Promise<number | null>;
}

const alive = new Set<ChildProcess>();

/**
 * Starts the built server with only these settings and waits until its log says `until`.
 *
 * @throws Error with the output when it ends before that, or does not say it in two minutes
 */
export async function startServer(env: Record<string, string>, until = READY): Promise<RunningServer> {
  const startedAt = performance.now();
  const { child, text, ended } = launch({ PORT: '0', ...UNSHED, ...env });
  const logLine = (message: string) => findLine(text(), message);
  await waitFor(`"${until}"`, () => logLine(until) !== undefined || hasEnded(child), 120_000).catch(
    (error: unknown) => {
      child.kill('SIGKILL');
      throw new Error(`the server is not ready:\n${text()}`, { cause: error });
    },
  );
  if (logLine(until) === undefined) throw new Error(`the server ended with ${child.exitCode}:\n${text()}`);
  const readyMs = performance.now() - startedAt;
  const api = logLine(READY)?.['api'];
  return {
    base: typeof api === 'string' ? api.replace(/\/v1$/, '') : '',
    firstToken: /First organizer token .*: (\S+)/.exec(text())?.[1],
    readyMs: Math.round(readyMs),
    output: text,
    logLine,
    async end(signal) {
      if (!hasEnded(child)) child.kill(signal);
      await ended;
      return child.exitCode;
    },
  };
}

/** Runs the built server to its end, for settings that it refuses. */
export async function runServer(env: Record<string, string>): Promise<{ code: number | null; output: string }> {
  const { child, text, ended } = launch(env);
  await ended;
  return { code: child.exitCode, output: text() };
}

/** Ends whatever a failed test left running; for `afterAll`. */
export async function killServers(): Promise<void> {
  for (const child of alive) {
    const ended = once(child, 'close');
    child.kill('SIGKILL');
    await ended;
  }
}

function launch(env: Record<string, string>) {
  const child = spawn(process.execPath, ['--enable-source-maps', ENTRY], {
    cwd: root,
    env: { PATH: process.env['PATH'], ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  alive.add(child);
  const ended = once(child, 'close').then(() => alive.delete(child));
  const heard: string[] = [];
  for (const stream of [child.stdout, child.stderr]) {
    createInterface({ input: stream }).on('line', (line) => heard.push(line));
  }
  return { child, ended, text: () => heard.join('\n') };
}

const hasEnded = (child: ChildProcess) => child.exitCode !== null || child.signalCode !== null;

function findLine(text: string, message: string): Record<string, unknown> | undefined {
  const line = text.split('\n').find((line) => line.startsWith('{') && line.includes(`"msg":"${message}"`));
  return line === undefined ? undefined : (JSON.parse(line) as Record<string, unknown>);
}

export interface DataFolder {
  path: string;
  /** process id of the database on it; undefined when none runs */
  database(): Promise<number | undefined>;
  /** waits for the database on it to end, then deletes it */
  remove(): Promise<void>;
}

/** A folder for the data of one server: one that a server has made its database in, or with `fresh` one to be made. */
export async function makeDataFolder({ fresh = false } = {}): Promise<DataFolder> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-e2e-'));
  // PostgreSQL may run as another user than this process.
  await chmod(folder, 0o711);
  const path = join(folder, 'data');
  if (!fresh) await copyUsedFolder(path);
  const database = async () => {
    const text = await readFile(join(path, 'postgres/postmaster.pid'), 'utf8').catch(() => '');
    const pid = Number(text.split('\n')[0]);
    return pid > 0 && exists(pid) ? pid : undefined;
  };
  return {
    path,
    database,
    async remove() {
      await waitFor('the database to end', async () => (await database()) === undefined);
      await rm(folder, { recursive: true, force: true });
    },
  };
}

function exists(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}
