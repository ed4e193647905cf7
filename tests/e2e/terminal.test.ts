import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { afterAll, expect, test } from 'vitest';
import { makeDataFolder } from '../support/server-process.ts';
import { waitFor } from '../support/wait.ts';
import { createServer } from 'node:net';

const folders: { remove(): Promise<void> }[] = [];
afterAll(async () => {
  for (const folder of folders) await folder.remove();
});

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as { port: number };
  server.close();
  await once(server, 'close');
  return port;
}

test('on a terminal the end of a start is one block with token and links, and requests are not listed', async () => {
  const folder = await makeDataFolder({ fresh: true });
  folders.push(folder);
  const port = await freePort();
  // `script` gives the server a terminal of its own, and Ctrl-C as its third byte.
  const child = spawn('script', ['-qec', `${process.execPath} dist/src/server.js`, '/dev/null'], {
    env: { PATH: process.env['PATH'], TERM: 'dumb', PORT: String(port), DATA_DIR: folder.path },
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  let output = '';
  child.stdout.setEncoding('utf8').on('data', (text: string) => {
    output += text;
  });
  const ended = once(child, 'close');
  await waitFor('the block', () => output.includes('Stop it with Ctrl-C.'), 60_000);
  await waitFor('its end', () => output.split('─'.repeat(78)).length === 3);
  const base = `http://127.0.0.1:${port}`;
  expect((await fetch(`${base}/healthz`)).status).toBe(200);
  child.stdin.write('\x03');
  await ended;

  const [before = '', block = '', after = ''] = output.split('─'.repeat(78));
  expect(block).toContain(`${base}/v1`);
  expect(block).toContain(`${base}/docs`);
  const token = /First organizer token .*: (gw_[\w-]{43})/.exec(block)?.[1] ?? 'none';
  expect(output.split(token)).toHaveLength(2);
  expect(before).toContain('making the database');
  for (const once of ['Gridworthy is ready', 'embedded database started', 'migrations applied']) {
    expect(output.split(once), once).toHaveLength(2);
  }
  expect(before).not.toMatch(/listening/i);
  expect(after).toContain('stopped');
  expect(output).not.toContain('request answered');
});
