import { execFile } from 'node:child_process';
import { once } from 'node:events';
import { type AddressInfo, connect, createServer } from 'node:net';
import { promisify } from 'node:util';
import { afterAll, describe, expect, test } from 'vitest';
import { type DataFolder, killServers, makeDataFolder, runServer, startServer } from '../support/server-process.ts';
import { send, sendOk } from './http.ts';

const say = (text: string) => process.stdout.write(`${text}\n`);
const TOKEN = 'organizer-token-for-starts-and-stops';
const folders: DataFolder[] = [];

async function dataFolder(options?: { fresh: boolean }): Promise<DataFolder> {
  const folder = await makeDataFolder(options);
  folders.push(folder);
  return folder;
}

afterAll(async () => {
  await killServers();
  for (const folder of folders) await folder.remove();
});

describe('a start with nothing but a folder', () => {
  test('serves, prints the first organizer token once, and keeps its data over a restart', async () => {
    const { path } = await dataFolder({ fresh: true });
    const startedAt = performance.now();
    const first = await startServer({ DATA_DIR: path });
    const health = await send(first.base, { path: '/readyz' });
    const firstAnswerMs = Math.round(performance.now() - startedAt);
    expect(health.status).toBe(200);
    // The aim is 5 s on a warm install; a test machine may be busy.
    expect(firstAnswerMs).toBeLessThan(20_000);

    const token = first.firstToken ?? '';
    expect(token).toMatch(/^gw_[\w-]{43}$/);
    expect(first.output().split(token)).toHaveLength(2);
    const docs = await fetch(String(first.logLine('Gridworthy is ready')?.['docs']));
    expect(docs.status).toBe(200);
    // Files of the project are found from where it was compiled to.
    expect((await fetch(`${first.base}/docs/start`)).status).toBe(200);
    expect((await fetch(`${first.base}/gate`)).status).toBe(200);
    const venue = { name: 'Kept circuit', timeZone: 'Etc/UTC' };
    const { venueId } = await sendOk(first.base, { method: 'POST', path: '/v1/venues', body: venue, token });
    expect(await first.end('SIGTERM')).toBe(0);
    expect(first.output()).toContain('"msg":"stopped"');

    const second = await startServer({ DATA_DIR: path });
    expect(second.firstToken).toBeUndefined();
    expect(second.output()).not.toContain('gw_');
    const kept = await sendOk(second.base, { path: `/v1/venues/${String(venueId)}`, token }, 200);
    expect(kept['name']).toBe('Kept circuit');
    expect(await second.end('SIGINT')).toBe(0);
    say(`first start: first answer after ${firstAnswerMs} ms; second start: ready after ${second.readyMs} ms`);
  });

  test('refuses a second server on the same folder and leaves the first one alone', async () => {
    const { path } = await dataFolder();
    const first = await startServer({ DATA_DIR: path });
    const second = await runServer({ DATA_DIR: path, PORT: '0' });
    expect(second.code).toBe(1);
    expect(second.output).toContain(path);
    expect((await send(first.base, { path: '/readyz' })).status).toBe(200);
    expect(await first.end('SIGTERM')).toBe(0);
  });

  test('takes the organizer token that it is given, prints none, and logs none', async () => {
    const { path } = await dataFolder();
    const token = 'an-organizer-token-of-the-club';
    const server = await startServer({ DATA_DIR: path, ORGANIZER_TOKEN: token, LOG_LEVEL: 'debug' });
    expect(server.firstToken).toBeUndefined();
    expect((await send(server.base, { path: '/v1/tokens', token })).status).toBe(200);
    expect((await send(server.base, { path: '/v1/tokens', token: `${token}x` })).status).toBe(401);
    expect(await server.end('SIGTERM')).toBe(0);
    expect(server.output()).not.toContain(token);
  });
});

describe('an organizer token', () => {
  test('that was revoked by its own call warns at the next start, and a new one can be made on the machine', async () => {
    const { path } = await dataFolder();
    const token = 'an-organizer-token-of-the-club';
    const env = { DATA_DIR: path, ORGANIZER_TOKEN: token };
    const first = await startServer(env);
    const made = await sendOk(first.base, {
      method: 'POST',
      path: '/v1/tokens',
      body: { role: 'organizer', holder: 'Second' },
      token,
    });
    const { tokenId } = await sendOk(first.base, { path: '/v1/own-token', token }, 200);
    const gone = await send(first.base, { method: 'DELETE', path: `/v1/tokens/${String(tokenId)}`, token });
    expect(gone.status).toBe(204);
    expect(await first.end('SIGTERM')).toBe(0);

    const second = await startServer(env);
    expect(second.output()).toMatch(/"level":"warn"[^\n]*ORGANIZER_TOKEN was revoked[^\n]*npm run token/);
    expect((await send(second.base, { path: '/v1/tokens', token })).status).toBe(401);
    expect((await send(second.base, { path: '/v1/tokens', token: String(made['token']) })).status).toBe(200);
    // Beside the server that works, on its database.
    const { stdout } = await promisify(execFile)(process.execPath, ['dist/src/token.js', 'organizer', 'Found again'], {
      env: { ...process.env, DATA_DIR: path },
    });
    const again = /: (gw_\S+)/.exec(stdout)?.[1] ?? '';
    expect((await send(second.base, { path: '/v1/tokens', token: again })).status).toBe(200);
    expect(await second.end('SIGTERM')).toBe(0);
  });

  test('is not made by a start that cannot listen, and made and shown by the next', async () => {
    const { path } = await dataFolder();
    const taken = createServer();
    taken.listen(0, '127.0.0.1');
    await once(taken, 'listening');
    const { port } = taken.address() as AddressInfo;
    const failed = await runServer({ DATA_DIR: path, PORT: String(port) });
    taken.close();
    expect(failed.code).not.toBe(0);
    expect(failed.output).not.toContain('gw_');
    const next = await startServer({ DATA_DIR: path });
    expect((await send(next.base, { path: '/v1/tokens', token: next.firstToken ?? '' })).status).toBe(200);
    expect(await next.end('SIGTERM')).toBe(0);
  });
});

describe('a stop while connections are open', () => {
  const HALF_BODY = 'content-type: application/json\r\ncontent-length: 99\r\n\r\n{"name":';
  test.each([
    { what: 'one that was opened in advance and says nothing', sent: '' },
    { what: 'one with half a request', sent: 'GET /healthz HTTP/1.1\r\nhost: x\r\n' },
    { what: 'one that is kept for the next request', sent: 'GET /healthz HTTP/1.1\r\nhost: x\r\n\r\n' },
    {
      what: 'one with a body that never ends',
      sent: `POST /v1/venues HTTP/1.1\r\nhost: x\r\nauthorization: Bearer ${TOKEN}\r\n${HALF_BODY}`,
    },
  ])('is decent and in time: $what', async ({ sent }) => {
    const { path } = await dataFolder();
    const server = await startServer({ DATA_DIR: path, ORGANIZER_TOKEN: TOKEN, SHUTDOWN_SECONDS: '8' });
    const socket = connect(Number(new URL(server.base).port), '127.0.0.1');
    socket.on('error', () => undefined);
    await once(socket, 'connect');
    if (sent !== '') socket.write(sent);
    // The server has seen the connection when it has answered on a later one.
    await send(server.base, { path: '/healthz' });
    expect(await server.end('SIGTERM'), server.output()).toBe(0);
    expect(server.output()).toContain('"msg":"stopped"');
    socket.destroy();
  });
});

describe('a start with bad settings', () => {
  test('ends with 2 and names every bad key, and no value', async () => {
    const bad = {
      PORT: 'eighty',
      ROLE: 'boss',
      LOG_LEVEL: 'loud',
      DATABASE_URL: 'mysql://secret-user@127.0.0.1/x',
      REDIS_URL: 'not a url',
      ORGANIZER_TOKEN: 'short',
      CLAIM_LEASE_MINUTES: '0',
    };
    const { code, output } = await runServer(bad);
    expect(code).toBe(2);
    for (const key of Object.keys(bad)) expect(output).toContain(`${key}: `);
    expect(output).not.toContain('secret-user');
  });

  test('ends with 2 when a role is given without a database', async () => {
    const { code, output } = await runServer({ ROLE: 'api' });
    expect(code).toBe(2);
    expect(output).toContain('DATABASE_URL: is required when ROLE is set');
  });

  test('ends with 1 and says so when the database cannot be reached', async () => {
    // Port 1 of this machine: nobody listens there.
    const { code, output } = await runServer({ DATABASE_URL: 'postgresql://nobody@127.0.0.1:1/none', PORT: '0' });
    expect(code).toBe(1);
    expect(output).toContain('127.0.0.1:1');
  });
});
