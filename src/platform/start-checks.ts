import { createServer } from 'node:net';
import pg from 'pg';

/** Why a process cannot start, in one line for who starts it: what is wrong and which setting to change. */
export class CannotStart extends Error {
  constructor(message: string, options?: ErrorOptions) {
    super(message, options);
    this.name = 'CannotStart';
  }
}

const CONNECT_MS = 5000;

/**
 * Checks that the address can be listened on, before anything that takes long or changes data.
 *
 * @throws CannotStart naming PORT or HOST
 */
export async function assertPortFree(host: string, port: number): Promise<void> {
  const probe = createServer();
  try {
    await new Promise<void>((resolve, reject) => {
      probe.once('error', reject);
      probe.listen({ host, port }, resolve);
    });
  } catch (error) {
    throw portFault(error, host, port);
  }
  await new Promise((resolve) => probe.close(resolve));
}

/** What is wrong with an address that could not be listened on; any other error is given back as it is. */
export function portFault(error: unknown, host: string, port: number): unknown {
  switch (codeOf(error)) {
    case 'EADDRINUSE':
      return new CannotStart(`PORT ${port} of ${host} is taken by another program: set PORT to a free one.`);
    case 'EACCES':
      return new CannotStart(`PORT ${port} of ${host} is not allowed to this user: set PORT to one above 1023.`);
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
