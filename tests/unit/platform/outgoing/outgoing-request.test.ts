import { createServer, type RequestListener, type Server } from 'node:http';
import { type AddressInfo, createServer as createTcpServer } from 'node:net';
import { afterEach, describe, expect, test } from 'vitest';
import {
  type OutgoingOptions,
  parseAllowList,
  PUBLIC_ONLY,
  sendOutgoing,
} from '../../../../src/platform/outgoing/outgoing-request.ts';

const servers: { close(): unknown }[] = [];
afterEach(() => {
  for (const server of servers.splice(0)) server.close();
});

async function listen(handler: RequestListener): Promise<number> {
  const server: Server = createServer(handler);
  servers.push({ close: () => (server.closeAllConnections(), server.close()) });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return (server.address() as AddressInfo).port;
}

function allow(list: string) {
  const policy = parseAllowList(list);
  if (policy === undefined) throw new Error(`not a list: ${list}`);
  return policy;
}

const OPTIONS: OutgoingOptions = { policy: allow('127.0.0.1,hooks.example'), timeoutMs: 2000, answerLimitBytes: 1024 };
const HOOKS = { ...OPTIONS, resolve: async () => ['127.0.0.1'] };
const post = (url: string, options: OutgoingOptions = OPTIONS) =>
  sendOutgoing({ url, headers: { 'content-type': 'application/json', 'x-mark': 'yes' }, body: '{"a":"ö"}' }, options);

describe('a request', () => {
  test('arrives with its bytes and headers, under the name that was asked', async () => {
    const seen: unknown[] = [];
    const port = await listen((request, reply) => {
      const parts: Buffer[] = [];
      request.on('data', (part: Buffer) => parts.push(part));
      request.on('end', () => {
        const { host, 'x-mark': mark } = request.headers;
        seen.push([request.method, request.url, host, mark, Buffer.concat(parts).toString()]);
        reply.writeHead(202, { 'retry-after': '7' }).end('taken');
      });
    });
    const outcome = await post(`http://hooks.example:${port}/in?x=1`, HOOKS);
    expect(outcome).toEqual({ kind: 'answered', status: 202, answer: 'taken', retryAfter: '7' });
    expect(seen).toEqual([['POST', '/in?x=1', `hooks.example:${port}`, 'yes', '{"a":"ö"}']]);
  });

  test.each([301, 302, 303, 307, 308])('does not follow %i', async (status) => {
    let visits = 0;
    const port = await listen((request, reply) => {
      visits += 1;
      if (request.url === '/in') reply.writeHead(status, { location: '/secret' }).end();
      else reply.end('secret');
    });
    expect(await post(`http://127.0.0.1:${port}/in`)).toMatchObject({ kind: 'answered', status, answer: '' });
    expect(visits).toBe(1);
  });

  test('reads the start of a large answer and does not wait for the rest', async () => {
    const port = await listen((_request, reply) => {
      reply.writeHead(200);
      const timer = setInterval(() => reply.write('x'.repeat(65_536)), 1);
      reply.on('close', () => clearInterval(timer));
    });
    const from = performance.now();
    expect(await post(`http://127.0.0.1:${port}/`)).toMatchObject({ status: 200, answer: 'x'.repeat(1024) });
    expect(performance.now() - from).toBeLessThan(1500);
  });

  test('keeps no control characters and no half letters of an answer', async () => {
    const port = await listen((_request, reply) => reply.end(Buffer.from([0x61, 0x00, 0x1b, 0xc3, 0x0a, 0x62])));
    expect(await post(`http://127.0.0.1:${port}/`)).toMatchObject({ answer: 'a\ufffd\ufffd\ufffd\nb' });
  });

  test.each<[string, RequestListener]>([
    ['never answers', () => undefined],
    ['trickles', (_request, reply) => trickle(reply)],
  ])('gives up in time on a receiver that %s', async (_what, handler) => {
    const port = await listen(handler);
    const from = performance.now();
    const outcome = await post(`http://127.0.0.1:${port}/`, { ...OPTIONS, timeoutMs: 300 });
    expect(outcome).toEqual({ kind: 'failed', why: 'no-answer-in-time' });
    expect(performance.now() - from).toBeLessThan(1500);
  });

  test('has one time limit for looking up the name as well', async () => {
    const resolve = () => new Promise<string[]>(() => undefined);
    const from = performance.now();
    const outcome = await post('https://hooks.example/', { ...OPTIONS, timeoutMs: 300, resolve });
    expect(outcome).toEqual({ kind: 'failed', why: 'no-answer-in-time' });
    expect(performance.now() - from).toBeLessThan(1500);
  });

  test('tells nothing but that there is no connection, no TLS or no HTTP', async () => {
    const port = await listen((_request, reply) => reply.destroy());
    expect(await post(`http://127.0.0.1:${port}/`)).toEqual({ kind: 'failed', why: 'not-connected' });
    expect(await post(`https://127.0.0.1:${port}/`)).toEqual({ kind: 'failed', why: 'tls-failed' });
    const talker = createTcpServer((socket) => socket.once('data', () => socket.end('220 mail ready\r\n')));
    servers.push(talker);
    await new Promise<void>((resolve) => talker.listen(0, '127.0.0.1', resolve));
    const other = (talker.address() as AddressInfo).port;
    expect(await post(`http://127.0.0.1:${other}/`)).toEqual({ kind: 'failed', why: 'broken-answer' });
    talker.close();
    await new Promise((resolve) => setTimeout(resolve, 10));
    expect(await post(`http://127.0.0.1:${other}/`)).toEqual({ kind: 'failed', why: 'not-connected' });
  });

  test('without TLS is not made unless the host is listed', async () => {
    const port = await listen((_request, reply) => reply.end('ok'));
    expect(await post(`http://127.0.0.1:${port}/`, { ...OPTIONS, policy: PUBLIC_ONLY })).toEqual({
      kind: 'failed',
      why: 'not-allowed',
    });
    const byRange = { ...HOOKS, policy: allow('127.0.0.0/8') };
    expect(await post(`http://hooks.example:${port}/`, byRange)).toMatchObject({ why: 'not-allowed' });
    expect(await post(`http://127.0.0.1:${port}/`, byRange)).toMatchObject({ status: 200 });
  });
});

function trickle(reply: Parameters<RequestListener>[1]): void {
  reply.writeHead(200, { 'content-length': '1000' });
  const timer = setInterval(() => reply.write('.'), 20);
  reply.on('close', () => clearInterval(timer));
}

describe('a list of what is allowed', () => {
  test.each(['10.0.0.0/8', '192.168.1.7', 'fd12::/16', '::1', 'timing.lan', 'box', '10.0.0.0/8, Timing.LAN ,fd00::1'])(
    'may hold %s',
    (list) => expect(parseAllowList(list)).toBeDefined(),
  );

  test.each([
    '10.0.0.0/33',
    '10.0.0',
    '10',
    '0x0a000001',
    'fd00::/129',
    'http://box',
    'box:80',
    '*.lan',
    '-a.lan',
    'a b',
  ])('may not hold %s', (list) => expect(parseAllowList(list)).toBeUndefined());
});
