import { once } from 'node:events';
import { connect, createServer, type Socket } from 'node:net';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { waitFor } from '../support/wait.ts';
import { openProxy, type Proxy } from './proxy.ts';

/** A server that writes down what it hears and says it back. */
async function startEcho() {
  const heard: string[] = [];
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on('error', () => undefined);
    socket.on('close', () => sockets.delete(socket));
    socket.on('data', (data) => {
      heard.push(String(data));
      socket.write(data);
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return { heard, sockets, server, port: (server.address() as { port: number }).port };
}

let echo: Awaited<ReturnType<typeof startEcho>>;
let proxy: Proxy;
let client: Socket;
let answers: string[];
let closed: boolean;

beforeEach(async () => {
  echo = await startEcho();
  proxy = await openProxy(() => echo.port);
  await join();
  await say('one');
  await waitFor('an answer', () => answers.length === 1);
});
afterEach(async () => {
  client.destroy();
  await proxy.close();
  await new Promise((resolve) => echo.server.close(resolve));
});

async function join() {
  answers = [];
  closed = false;
  client = connect(proxy.port, '127.0.0.1');
  client.on('error', () => undefined);
  client.on('data', (data) => answers.push(String(data)));
  client.on('close', () => (closed = true));
  await once(client, 'connect');
}

const say = (text: string) => new Promise((resolve) => client.write(text, resolve));
const moment = () => new Promise((resolve) => setTimeout(resolve, 100));

test('drop: connections are reset, new ones too, until it is mended', async () => {
  const mend = proxy.cut('drop');
  await waitFor('the reset', () => closed);
  await join().catch(() => undefined);
  await waitFor('the next reset', () => closed);
  mend();
  await join();
  await say('two');
  await waitFor('an answer', () => answers.length === 1);
});

test('hang: nothing moves, and everything does once it is mended', async () => {
  const mend = proxy.cut('hang');
  await say('two');
  await moment();
  expect([echo.heard, answers, closed]).toEqual([['one'], ['one'], false]);
  mend();
  await waitFor('the answer', () => answers.join('') === 'onetwo');
});

test('half-open: the far side is gone, and the near side is not told until it is mended', async () => {
  const mend = proxy.cut('half-open');
  await waitFor('the far side to go', () => echo.sockets.size === 0);
  await say('two');
  await moment();
  expect([echo.heard, answers, closed]).toEqual([['one'], ['one'], false]);
  mend();
  await waitFor('the reset', () => closed);
});

test('one-way: what is asked arrives, and the answer is lost', async () => {
  const mend = proxy.cut('one-way');
  await say('two');
  await waitFor('the question', () => echo.heard.length === 2);
  await moment();
  expect([answers, closed]).toEqual([['one'], false]);
  mend();
  await waitFor('the reset', () => closed);
});
