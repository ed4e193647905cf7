import { type ChildProcess, execFileSync, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { request } from 'node:https';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Club, enterCar, setUpClub } from '../e2e/club.ts';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { killServers, type RunningServer, startServer } from '../support/server-process.ts';
import { waitFor } from '../support/wait.ts';
import { freePort } from './ports.ts';

// The examples as they stand in src/deploy/proxy, with other ports, another name for the certificate and no more.
const FOLDER = new URL('../../src/deploy/proxy/', import.meta.url).pathname;
const NAME = 'tech.example.org';
const TOKEN = 'organizer-token-behind-a-proxy';
const home = mkdtempSync(join(tmpdir(), 'gridworthy-proxy-'));
const [certificate, key, both] = ['cert.pem', 'key.pem', 'both.pem'].map((name) => join(home, name)) as [
  string,
  string,
  string,
];

let database: TestDatabase;
let server: RunningServer;
let upstream: string;
let club: Club;
const running: ChildProcess[] = [];

beforeAll(async () => {
  database = await createTestDatabase();
  const port = await freePort();
  upstream = `127.0.0.1:${port}`;
  server = await startServer({
    DATABASE_URL: database.url,
    DATA_DIR: join(home, 'data'),
    ORGANIZER_TOKEN: TOKEN,
    PORT: String(port),
    PUBLIC_URL: `https://${NAME}`,
    TRUST_PROXY: '127.0.0.1',
    RATE_LIMIT_PER_MINUTE: '200',
  });
  club = await setUpClub(`http://${upstream}`, TOKEN);
  const subject = ['-subj', `/CN=${NAME}`, '-addext', `subjectAltName=DNS:${NAME}`, '-days', '1'];
  const made = ['req', '-x509', '-newkey', 'rsa:2048', '-nodes', '-keyout', key, '-out', certificate, ...subject];
  execFileSync('openssl', made, { stdio: 'ignore' });
  writeFileSync(both, readFileSync(certificate, 'utf8') + readFileSync(key, 'utf8'));
});
afterAll(async () => {
  for (const child of running) {
    child.kill('SIGTERM');
    if (child.exitCode === null && child.signalCode === null) await once(child, 'exit');
  }
  await killServers();
  await database.drop();
  rmSync(home, { recursive: true, force: true });
});

interface Proxy {
  program: string;
  start(ports: { plain: number; secure: number }): { command: string; args: string[] };
}

const config = (file: string) => readFileSync(join(FOLDER, file), 'utf8').replaceAll('127.0.0.1:8080', upstream);
const written = (name: string, text: string) => {
  writeFileSync(join(home, name), text);
  return join(home, name);
};

const PROXIES: Proxy[] = [
  {
    program: 'nginx',
    start({ plain, secure }) {
      const site = config('nginx.conf')
        .replace('listen 80;', `listen 127.0.0.1:${plain};`)
        .replace('listen 443 ssl', `listen 127.0.0.1:${secure} ssl`)
        .replace(`/etc/ssl/certs/${NAME}.pem`, certificate)
        .replace(`/etc/ssl/private/${NAME}.key`, key);
      const temporary = ['client_body', 'proxy', 'fastcgi', 'uwsgi', 'scgi'].map(
        (one) => `${one}_temp_path ${home}/${one};`,
      );
      const main = `daemon off; user root; pid ${home}/nginx.pid; events {} error_log stderr;
        http { access_log off; ${temporary.join(' ')} ${site} }`;
      return { command: 'nginx', args: ['-p', home, '-c', written('nginx.conf', main), '-e', 'stderr'] };
    },
  },
  {
    program: 'caddy',
    start({ plain, secure }) {
      const site = config('Caddyfile').replace(`${NAME} {`, `${NAME} {\n\tbind 127.0.0.1\n\ttls ${certificate} ${key}`);
      const options = `{\n\tadmin off\n\thttp_port ${plain}\n\thttps_port ${secure}\n\tstorage file_system ${home}/caddy\n}\n`;
      return {
        command: 'caddy',
        args: ['run', '--config', written('Caddyfile', options + site), '--adapter', 'caddyfile'],
      };
    },
  },
  {
    program: 'haproxy',
    start({ plain, secure }) {
      const text = config('haproxy.cfg')
        .replace('bind :80', `bind 127.0.0.1:${plain}`)
        .replace('bind :443', `bind 127.0.0.1:${secure}`)
        .replace(`/etc/haproxy/${NAME}.pem`, both);
      return { command: 'haproxy', args: ['-db', '-f', written('haproxy.cfg', text)] };
    },
  },
];

interface Answer {
  status: number;
  headers: Record<string, string | string[] | undefined>;
  body: string;
}

/** One request by HTTPS to the name, as a browser that trusts the certificate sends it. */
function ask(port: number, path: string, options: { method?: string; headers?: object; body?: Buffer } = {}) {
  return new Promise<Answer>((resolve, reject) => {
    const { method = 'GET', headers = {}, body } = options;
    const sent = request(
      {
        host: '127.0.0.1',
        port,
        agent: false,
        servername: NAME,
        ca: readFileSync(certificate),
        path,
        method,
        headers: { host: NAME, ...headers },
      },
      (answer) => {
        let text = '';
        answer.on('data', (chunk) => (text += String(chunk)));
        answer.on('end', () => resolve({ status: answer.statusCode ?? 0, headers: answer.headers, body: text }));
      },
    );
    sent.on('error', reject);
    sent.end(body);
  });
}

const installed = (program: string) => spawnSync('sh', ['-c', `command -v ${program}`]).status === 0;
for (const { program } of PROXIES) if (!installed(program)) process.stdout.write(`SKIPPED: ${program} not found\n`);

describe.each(PROXIES.filter(({ program }) => installed(program)))('behind $program', ({ start }) => {
  let secure: number;
  let plain: number;
  let output = '';
  beforeAll(async () => {
    [plain, secure] = [await freePort(), await freePort()];
    const { command, args } = start({ plain, secure });
    const child = spawn(command, args, {
      stdio: ['ignore', 'pipe', 'pipe'],
      env: { PATH: process.env['PATH'], HOME: home },
    });
    for (const stream of [child.stdout, child.stderr]) stream.on('data', (chunk) => (output += String(chunk)));
    running.push(child);
    const up = async () => (await ask(secure, '/healthz').catch(() => undefined))?.status === 200;
    await waitFor(`the proxy: ${output}`, async () => child.exitCode !== null || (await up()), 20_000);
    expect(child.exitCode, output).toBeNull();
  });

  const authorization = { authorization: `Bearer ${TOKEN}` };

  test('pages and API answer by HTTPS, which the browser is told to keep to', async () => {
    const page = await ask(secure, '/office');
    expect(page.status).toBe(200);
    expect(page.headers['strict-transport-security']).toBe('max-age=15768000');
    expect((await ask(secure, '/v1/tokens', { headers: authorization })).status).toBe(200);
  });

  test('without HTTPS a page leads to it, and the API refuses', async () => {
    const page = await fetch(`http://127.0.0.1:${plain}/office`, { headers: { host: NAME }, redirect: 'manual' });
    expect([301, 308]).toContain(page.status);
    expect(page.headers.get('location')).toMatch(/^https:\/\//);
    const api = await fetch(`http://127.0.0.1:${plain}/v1/tokens`, {
      headers: { host: NAME, ...authorization },
      redirect: 'manual',
    });
    expect(api.status).not.toBe(200);
  });

  test('a large body reaches the server, which has the limit', async () => {
    const body = Buffer.alloc(4 * 1024 * 1024, 0x20);
    const answer = await ask(secure, '/v1/venues', {
      method: 'POST',
      headers: { ...authorization, 'content-type': 'application/json', 'content-length': body.length },
      body,
    }).catch((error: unknown) => ({ status: 0, headers: {}, body: String(error) }));
    // The server may end the connection while the rest is sent; what it says is its own problem document.
    if (answer.status !== 0) expect(answer.body).toContain('"requestId"');
    else expect(answer.body).toMatch(/ECONNRESET|EPIPE/);
  });

  test('what the live stream tells comes at once', async () => {
    const said = await new Promise<string>((resolve, reject) => {
      const path = `/v1/events/${club.eventId}/stream`;
      const headers = { host: NAME, authorization: `Bearer ${club.inspector}` };
      const ca = readFileSync(certificate);
      const sent = request({ host: '127.0.0.1', port: secure, agent: false, servername: NAME, ca, path, headers });
      sent.on('error', reject);
      sent.on('response', (answer) => {
        let text = '';
        const enter = () =>
          void enterCar(`http://${upstream}`, club, String(Math.floor(Math.random() * 9000) + 100)).catch(reject);
        enter();
        answer.on('data', (chunk) => {
          text += String(chunk);
          if (!text.includes('data:')) return;
          resolve(text);
          sent.destroy();
        });
      });
      sent.end();
      setTimeout(() => reject(new Error('nothing came in 10 seconds')), 10_000).unref();
    });
    expect(said).toMatch(/^id: /m);
  });

  test('what a caller says about its address is not believed', async () => {
    // Failed tries are counted by address: made-up addresses would each begin anew.
    const statuses: number[] = [];
    for (let n = 0; n < 25; n += 1) {
      const headers = {
        authorization: 'Bearer gw_wrong',
        'x-forwarded-for': `203.0.113.${n}`,
        forwarded: `for=203.0.113.${n}`,
      };
      statuses.push((await ask(secure, '/v1/tokens', { headers })).status);
    }
    expect(statuses.at(-1)).toBe(429);
    expect((await ask(secure, '/v1/tokens', { headers: authorization })).status).toBe(200);
  });
});

test('the address people use stands in what the server says about itself', () => {
  expect(server.logLine('Gridworthy is ready')?.['api']).toBe(`https://${NAME}/v1`);
});
