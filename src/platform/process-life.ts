import { createServer } from 'node:net';
import closeWithGrace from 'close-with-grace';
import pg from 'pg';
import type { Logger } from './logger.ts';

/** Why a process cannot start, in one line for who starts it: what is wrong and which setting to change. */
export class CannotStart extends Error {
  constructor(message: string, options?: ErrorOptions) {
    super(message, options);
    this.name = 'CannotStart';
  }
}

const CONNECT_MS = 5000;

type PortKey = 'PORT' | 'WORKER_PORT';
/** Where a process listens, and the setting that says so; `PORT` unless told. */
interface Listening {
  host: string;
  port: number;
  key?: PortKey;
}

/**
 * Checks that the address can be listened on, before anything that takes long or changes data.
 *
 * @throws CannotStart naming HOST or the setting of the port
 */
export async function assertPortFree(host: string, port: number, key: PortKey = 'PORT'): Promise<void> {
  const probe = createServer();
  try {
    await new Promise<void>((resolve, reject) => {
      probe.once('error', reject);
      probe.listen({ host, port }, resolve);
    });
  } catch (error) {
    throw portFault(error, { host, port, key });
  }
  await new Promise((resolve) => probe.close(resolve));
}

/** What is wrong with an address that could not be listened on; any other error is given back as it is. */
export function portFault(error: unknown, { host, port, key = 'PORT' }: Listening): unknown {
  switch (codeOf(error)) {
    case 'EADDRINUSE':
      return new CannotStart(`${key} ${port} of ${host} is taken by another program: set ${key} to a free one.`);
    case 'EACCES':
      return new CannotStart(`${key} ${port} of ${host} is not allowed to this user: set ${key} to one above 1023.`);
    case 'EADDRNOTAVAIL':
    case 'ENOTFOUND':
    case 'EAI_AGAIN':
    case 'EINVAL':
      return new CannotStart(`HOST ${host} is no address of this machine: set HOST to one that is.`);
    default:
      return error;
  }
}

/**
 * Checks that the database of the settings answers.
 *
 * @throws CannotStart naming the address (never user or password) and what to set
 */
export async function assertDatabaseAnswers(url: string): Promise<void> {
  const client = new pg.Client({
    connectionString: url,
    connectionTimeoutMillis: CONNECT_MS,
    query_timeout: CONNECT_MS,
  });
  // A connection that breaks later than the query reports here; without a listener it would end the process.
  client.on('error', () => undefined);
  try {
    await client.connect();
    await client.query('SELECT 1');
  } catch (error) {
    throw new CannotStart(`DATABASE_URL: ${whatIsWrong(error, url)}`, { cause: error });
  } finally {
    await client.end().catch(() => undefined);
  }
}

function whatIsWrong(error: unknown, url: string): string {
  const { hostname, port, pathname } = new URL(url);
  const where = `${hostname}:${port === '' ? '5432' : port}`;
  const code = codeOf(error);
  switch (code) {
    case '28P01':
    case '28000':
      return `PostgreSQL at ${where} refuses its user or password: set it to one that is known there.`;
    case '3D000':
      return `PostgreSQL at ${where} has no database ${pathname.slice(1)}: create it, or set another one.`;
    case '57P03':
      return `PostgreSQL at ${where} is starting or stopping: start again in a moment.`;
    default: {
      const why = code ?? (error instanceof Error ? error.message : String(error));
      return `no PostgreSQL answers at ${where} (${why}): start it, or set another address.`;
    }
  }
}

function codeOf(error: unknown): string | undefined {
  if (!(error instanceof Error)) return undefined;
  // Several addresses of one name fail together, each with its own error.
  if (error instanceof AggregateError) return codeOf(error.errors[0]);
  return 'code' in error && typeof error.code === 'string' ? error.code : undefined;
}

export type ProcessLife = {
  /** Adds a step to the stop. Steps run one after another, the one added last first: what was opened first closes last. */
  onStop(name: string, run: () => Promise<unknown>): void;
  /** Stops in the same way as a signal does; the process exits with 0. */
  stop(): void;
  /** Reports why the process cannot go on, stops in the same way, and exits with 1. */
  fail(error: unknown): void;
};

type Step = { name: string; run: () => Promise<unknown> };

/**
 * Ends the process decently: on SIGTERM, SIGINT and errors that nobody caught, all steps run, at most for the given
 * time; a second signal exits at once. A step that fails is logged and does not keep the later ones from running.
 */
export function openProcessLife(options: { log: Logger; shutdownSeconds: number }): ProcessLife {
  const { log, shutdownSeconds } = options;
  const steps: Step[] = [];
  let failure: unknown;
  const settings: closeWithGrace.Options = {
    delay: shutdownSeconds * 1000,
    logger: false,
    onSecondSignal: (signal) => log.warn({ signal }, 'second signal: exiting at once'),
    onSecondError: (error) => log.fatal({ error }, 'error while stopping: exiting at once'),
    onTimeout: () => log.error({ shutdownSeconds }, 'stop took too long: exiting'),
  };
  const grace = closeWithGrace(settings, async ({ signal, err }) => {
    const cause = failure ?? err;
    if (cause === undefined) log.info({ signal }, 'stopping');
    // Said past the logger: at any log level, and in one line.
    else if (cause instanceof CannotStart) process.stderr.write(`The server cannot start. ${cause.message}\n`);
    else log.fatal({ error: cause }, 'stopping because of an error');
    const sound = await runSteps(steps.toReversed(), log);
    log.info('stopped');
    // Makes the exit code 1.
    if (cause !== undefined || !sound) throw cause ?? new Error('a step of the stop failed');
  });
  return {
    onStop: (name, run) => void steps.push({ name, run }),
    stop: () => grace.close(),
    fail: (error) => {
      failure ??= error;
      grace.close();
    },
  };
}

async function runSteps(steps: readonly Step[], log: Logger): Promise<boolean> {
  let sound = true;
  for (const { name, run } of steps) {
    try {
      await run();
      log.debug({ step: name }, 'step of the stop done');
    } catch (error) {
      sound = false;
      log.error({ error, step: name }, 'step of the stop failed');
    }
  }
  return sound;
}
