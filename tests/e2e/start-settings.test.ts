import { once } from 'node:events';
import { createServer, type Server } from 'node:net';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { killServers, makeDataFolder, runServer, startServer } from '../support/server-process.ts';
import { send } from './http.ts';

const TOKEN = 'organizer-token-for-every-setting';
let database: TestDatabase;
let base: Record<string, string>;

beforeAll(async () => {
  database = await createTestDatabase();
  base = { DATABASE_URL: database.url, ORGANIZER_TOKEN: TOKEN, DATA_DIR: '/nonexistent/not-needed-here' };
});
afterAll(async () => {
  await killServers();
  await database.drop();
});

async function takenPort(): Promise<{ port: number; server: Server }> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  if (address === null || typeof address === 'string') throw new Error('no port');
  return { port: address.port, server };
}

async function freePort(): Promise<number> {
  const { port, server } = await takenPort();
  server.close();
  await once(server, 'close');
  return port;
}

describe('a start answers at the address it says, with', () => {
  test.each<[string, Record<string, string>]>([
    ['a public address', { PUBLIC_URL: 'https://inspection.example.org/' }],
    ['a host name', { HOST: 'localhost' }],
    ['all addresses of the machine', { HOST: '0.0.0.0' }],
    ['a role', { ROLE: 'api' }],
    ['a proxy in front', { TRUST_PROXY: 'loopback' }],
    ['a token for the metrics', { METRICS_TOKEN: 'a-token-that-reads-the-metrics' }],
    ['a small pool and few log lines', { POOL_SIZE: '2', LOG_LEVEL: 'debug' }],
    [
      'a store for photos',
      { PHOTO_STORE: 's3://club', S3_ENDPOINT: 'http://127.0.0.1:1', S3_ACCESS_KEY_ID: 'a', S3_SECRET_ACCESS_KEY: 'b' },
    ],
    ['a queue that is away', { REDIS_URL: 'redis://127.0.0.1:1' }],
  ])('%s', async (_, settings) => {
    const port = await freePort();
    const server = await startServer({ ...base, PORT: String(port), ...settings });
    const here = `http://127.0.0.1:${port}`;
    expect((await send(here, { path: '/healthz' })).status, server.output()).toBe(200);
    expect((await send(here, { path: '/v1/tokens', token: TOKEN })).status).toBe(200);
    const said = settings['PUBLIC_URL']?.replace(/\/$/, '');
    if (said !== undefined) expect(server.logLine('Gridworthy is ready')?.['api']).toBe(`${said}/v1`);
    expect(await server.end('SIGTERM'), server.output()).toBe(0);
  });
});

describe('a start that cannot be says in one line what to set, before a database is made', () => {
  const cannot = async (settings: Record<string, string>) => {
    const folder = await makeDataFolder({ fresh: true });
    const { code, output } = await runServer({ DATA_DIR: folder.path, ...settings });
    const made = await folder.database();
    await folder.remove();
    return { code, lines: output.split('\n').filter((line) => !line.startsWith('{')), output, made };
  };

  test('where the port is taken', async () => {
    const { port, server } = await takenPort();
    const { code, lines, output, made } = await cannot({ PORT: String(port) });
    server.close();
    expect(code).toBe(1);
    expect(lines).toEqual([
      `The server cannot start. PORT ${port} of 127.0.0.1 is taken by another program: set PORT to a free one.`,
    ]);
    expect(output).not.toContain('embedded database started');
    expect(made).toBeUndefined();
  });

  test('where the host is no address of this machine', async () => {
    // An address for documentation, RFC 5737: no machine has it.
    const { code, lines } = await cannot({ HOST: '192.0.2.1', PORT: '8080' });
    expect(code).toBe(1);
    expect(lines).toEqual([
      'The server cannot start. HOST 192.0.2.1 is no address of this machine: set HOST to one that is.',
    ]);
  });

  test.each<[string, (url: URL) => void, RegExp]>([
    [
      'nobody listens there',
      (url) => Object.assign(url, { port: '1' }),
      /no PostgreSQL answers at 127\.0\.0\.1:1 \(ECONNREFUSED\)/,
    ],
    ['the password is wrong', (url) => Object.assign(url, { password: 'wrong-one' }), /refuses its user or password/],
    ['it has no such database', (url) => Object.assign(url, { pathname: '/absent' }), /has no database absent/],
  ])('where DATABASE_URL is given and %s', async (_, change, expected) => {
    const url = new URL(database.url);
    change(url);
    const { code, lines, output } = await cannot({ DATABASE_URL: url.href, PORT: '0' });
    expect(code).toBe(1);
    expect(lines).toHaveLength(1);
    expect(lines[0]).toMatch(/^The server cannot start\. DATABASE_URL: /);
    expect(lines[0]).toMatch(expected);
    expect(output).not.toContain('wrong-one');
  });
});
