import { connect } from 'node:net';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';

let t: TestApp;
let port: number;
let token: string;

beforeAll(async () => {
  t = await startTestApp();
  port = (t.app.server.address() as { port: number }).port;
  token = (await t.mint('organizer')).token;
});
afterAll(() => t.close());

/** Sends bytes as they are and reads until the server closes, or until nothing came for a while. */
function send(text: string | Buffer): Promise<string> {
  return new Promise((resolve, reject) => {
    const socket = connect(port, '127.0.0.1', () => socket.write(text));
    let answer = '';
    socket.setTimeout(2000, () => socket.destroy());
    socket.on('data', (part) => {
      answer += part.toString('latin1');
    });
    socket.on('error', reject);
    socket.on('close', () => resolve(answer));
  });
}

const head = (...lines: string[]) => `${lines.join('\r\n')}\r\n\r\n`;
const GET = 'GET /v1/venues HTTP/1.1';
const HOST = 'Host: x';
const CLOSE = 'Connection: close';
const auth = () => `Authorization: Bearer ${token}`;
const statusesIn = (answer: string) => [...answer.matchAll(/HTTP\/1\.1 (\d{3})/g)].map((match) => Number(match[1]));

describe('bytes that are no proper request (RFC 9112) get one refusal, and nothing behind them is read', () => {
  const smuggled = 'GET /v1/tokens HTTP/1.1\r\nHost: x\r\n\r\n';
  test.each([
    [
      'length and chunks together',
      (a: string) =>
        head('POST /v1/venues HTTP/1.1', HOST, a, 'Content-Length: 4', 'Transfer-Encoding: chunked') +
        `0\r\n\r\n${smuggled}`,
    ],
    [
      'two lengths',
      (a: string) =>
        head('POST /v1/venues HTTP/1.1', HOST, a, 'Content-Length: 4', 'Content-Length: 5') + `{} {}${smuggled}`,
    ],
    [
      'a length that is no number',
      (a: string) => head('POST /v1/venues HTTP/1.1', HOST, a, 'Content-Length: 0x10') + smuggled,
    ],
    ['a negative length', (a: string) => head('POST /v1/venues HTTP/1.1', HOST, a, 'Content-Length: -1') + smuggled],
    [
      'chunked twice',
      (a: string) => head('POST /v1/venues HTTP/1.1', HOST, a, 'Transfer-Encoding: xchunked') + `0\r\n\r\n${smuggled}`,
    ],
    ['a space before the colon', (a: string) => head(GET, HOST, a, 'Content-Length : 5') + smuggled],
    ['a folded header', (a: string) => head(GET, HOST, a, 'X-Folded: a', ' b: c') + smuggled],
    ['a NUL in a header', (a: string) => head(GET, HOST, a, 'X-Nul: a\u0000b') + smuggled],
    ['a bare carriage return', (a: string) => head(GET, HOST, a, 'X-Return: a\rb') + smuggled],
    ['another protocol', () => 'GET / FTP/9\r\n\r\n'],
    ['TLS', () => Buffer.from('16030100', 'hex')],
    ['no request at all', () => '\u0000\u0001\u0002\r\n\r\n'],
  ] as [string, (a: string) => string | Buffer][])('%s', async (_what, make) => {
    const answer = await send(make(auth()));
    expect(statusesIn(answer), answer).toEqual([400]);
    expect(answer).toMatch(/content-type: application\/problem\+json/i);
    expect(answer).toMatch(/x-content-type-options: nosniff/i);
    expect(answer).toMatch(/content-security-policy: default-src 'none'/i);
    expect(answer).not.toContain('"tokens"');
  });
});

describe('headers that come twice', () => {
  test('a second Authorization is not taken', async () => {
    const twice = await send(head('GET /v1/tokens HTTP/1.1', HOST, 'Authorization: Bearer gw_0', auth(), CLOSE));
    expect(statusesIn(twice)).toEqual([401]);
  });

  test('a second Content-Type is not taken, and a second Idempotency-Key makes it none', async () => {
    const body = JSON.stringify({ name: 'Twice', timeZone: 'Europe/Berlin' });
    const answer = await send(
      head(
        'POST /v1/venues HTTP/1.1',
        HOST,
        auth(),
        'Content-Type: application/json',
        'Content-Type: text/html',
        `Content-Length: ${body.length}`,
        CLOSE,
      ) + body,
    );
    // Node.js keeps the first of two Content-Types, so the body is read as what it was said to be first.
    expect(statusesIn(answer)).toEqual([201]);
    const path = '/v1/claims/019ab8f0-0000-7000-8000-00000000dead/sign-off';
    const { token: inspector } = await t.mint('inspector');
    const keys = ['Idempotency-Key: a', 'Idempotency-Key: b', 'Content-Type: application/json', 'Content-Length: 22'];
    const signOff = head(`POST ${path} HTTP/1.1`, HOST, `Authorization: Bearer ${inspector}`, ...keys, CLOSE);
    expect(await send(`${signOff}{"decision":"refuse"   }`.slice(0, signOff.length + 22))).toMatch(/^HTTP\/1\.1 400/);
  });

  test('too many and too long ones are refused', async () => {
    const long = await send(head(GET, HOST, auth(), `X-Long: ${'x'.repeat(40_000)}`, CLOSE));
    expect(statusesIn(long)).toEqual([431]);
    expect(long).toMatch(/"code":"headers-too-large"/);
    const address = await send(head(`GET /v1/venues?${'x'.repeat(40_000)} HTTP/1.1`, HOST, CLOSE));
    expect(statusesIn(address)).toEqual([431]);
  });
});

describe('on every answer', () => {
  test.each([
    ['a page', '/', 200],
    ['a success', '/healthz', 200],
    ['an unknown address', '/nothing', 404],
    ['an address that cannot be read', '/%zz', 400],
    ['a missing token', '/v1/events', 401],
    ['the documentation', '/docs/', 200],
    ['a script of the documentation', '/docs/static/swagger-initializer.js', 200],
    ['the document', '/openapi.json', 200],
  ])('stand the headers that keep browsers from harm: %s', async (_what, url, status) => {
    const answer = await t.api(undefined).get(url).set('origin', 'https://elsewhere.example');
    expect(answer.status).toBe(status);
    expect(answer.headers).toMatchObject({
      'content-security-policy': expect.stringMatching(/default-src 'none'.*frame-ancestors 'none'/),
      'x-content-type-options': 'nosniff',
      'x-frame-options': 'DENY',
      'referrer-policy': 'no-referrer',
      'x-request-id': expect.stringMatching(/^[0-9a-f-]{36}$/),
    });
    expect(answer.headers).not.toHaveProperty('access-control-allow-origin');
    expect(answer.headers).not.toHaveProperty('x-powered-by');
    expect(answer.headers).not.toHaveProperty('server');
    expect(answer.headers).not.toHaveProperty('set-cookie');
  });

  test('no other site may call, whatever it asks beforehand (Fetch, CORS preflight)', async () => {
    for (const url of ['/v1/events', '/v1/tokens', '/healthz']) {
      const preflight = await t
        .api(undefined)
        .options(url)
        .set('origin', 'https://elsewhere.example')
        .set('access-control-request-method', 'POST');
      expect(preflight.status).toBe(405);
      expect(Object.keys(preflight.headers).filter((name) => name.startsWith('access-control'))).toEqual([]);
    }
  });

  test('only the public schema of a rule set may be read by editors of other sites, and it takes no token', async () => {
    const answer = await t.api(undefined).get('/rule-set.schema.json').set('origin', 'https://elsewhere.example');
    expect(answer.headers['access-control-allow-origin']).toBe('*');
    expect(answer.headers).not.toHaveProperty('access-control-allow-credentials');
  });
});
