import { execFile, execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, type TestEvent } from '../support/event.ts';

const ROOT = new URL('../..', import.meta.url).pathname;
/** Somebody else's project, with the packed client installed in it and nothing beside. */
const project = realpathSync(mkdtempSync(join(tmpdir(), 'gridworthy-client-')));
const installed = join(project, 'node_modules/gridworthy-client');

interface Reply {
  body: { entries: { carNumber: string }[] };
}
/** The parts of the package that are run here; its own types are compiled in a test of their own. */
interface ClientModule {
  openClient(settings: { address: string; token?: string; waitMs?: number }): {
    call(operation: unknown, input: object): Promise<Reply>;
    pages(operation: unknown, input: object): AsyncIterable<Reply>;
  };
  Unreachable: new () => Error;
  listEntries: unknown;
  listVenues: unknown;
  createVenue: unknown;
  replaceVenue: unknown;
}

let t: TestApp;
let event: TestEvent;
let client: ClientModule;

beforeAll(async () => {
  const made = execFileSync(process.execPath, ['openapi/client/make.mjs'], { cwd: ROOT, encoding: 'utf8' });
  mkdirSync(installed, { recursive: true });
  execFileSync('tar', ['xzf', join(ROOT, made.trim()), '--strip-components=1', '--directory', installed]);
  client = (await import(join(installed, 'index.js'))) as ClientModule;
  t = await startTestApp();
  event = await createTestEvent(t);
}, 240_000);
afterAll(async () => {
  await t?.close();
  rmSync(project, { recursive: true });
});

const addressOf = (app: TestApp) => `http://127.0.0.1:${(app.app.server.address() as AddressInfo).port}`;

async function runExample(env: Record<string, string>): Promise<{ code: number; out: string; err: string }> {
  // In the project, where the name of the package leads to the installed one.
  const file = join(project, 'example.mjs');
  writeFileSync(file, readFileSync(join(installed, 'example.mjs')));
  return new Promise((resolve) => {
    execFile(process.execPath, [file], { env: { PATH: process.env['PATH'], ...env } }, (error, out, err) =>
      resolve({ code: error === null ? 0 : Number(error.code), out, err }),
    );
  });
}

test('the example of the package says who is not ready, and a refusal in the server’s words', async () => {
  const ready = await createTestEntry(t, event);
  await accept(t, event, ready);
  const waiting = await createTestEntry(t, event);
  t.clock.set('2026-06-13T08:00:00.000Z');
  const { token } = await t.mint('organizer');
  const env = { ADDRESS: addressOf(t), TOKEN: token, EVENT: event.eventId };
  const { code, out, err } = await runExample(env);
  expect(err).toBe('');
  expect(code).toBe(0);
  expect(out).toMatch(new RegExp(`^${waiting.carNumber} \\(.+\\): no-declaration\\. .+\nready: 1\n$`));
  const refused = await runExample({ ...env, TOKEN: 'gw_unknown' });
  expect(refused).toMatchObject({ code: 1, out: '' });
  expect(refused.err).toMatch(/^unauthenticated: .* \(request [\w-]+\)\n$/);
});

test('its types say what goes in and what comes out, and refuse the rest', { timeout: 120_000 }, () => {
  const options = [
    '--noEmit',
    '--strict',
    '--target',
    'es2022',
    '--module',
    'nodenext',
    '--types',
    '',
    '--skipLibCheck',
    'false',
  ];
  const tsc = (name: string, text: string) => {
    writeFileSync(
      join(project, name),
      `import { getEvent, listEntries, openClient } from 'gridworthy-client';\n${text}`,
    );
    const program = join(ROOT, 'node_modules/typescript/bin/tsc');
    try {
      return execFileSync(process.execPath, [program, ...options, '--lib', 'es2023,dom', name], {
        cwd: project,
        encoding: 'utf8',
      });
    } catch (error) {
      return (error as { stdout: string }).stdout;
    }
  };
  writeFileSync(join(project, 'package.json'), '{ "type": "module" }');
  const start = `const client = openClient({ address: 'https://tech.example.org' });`;
  const good = `${start}
    const { body } = await client.call(getEvent, { params: { eventId: 'x' } });
    export const day: string = body.startsOn;
    for await (const page of client.pages(listEntries, { params: { eventId: 'x' } }))
      for (const { clearance } of page.body.entries) { const admit: boolean = clearance.admit; void admit; }`;
  expect(tsc('good.ts', good)).toBe('');
  expect(tsc('no-id.ts', `${start} await client.call(getEvent, {}); export {};`)).toContain('error TS');
  const wrong = `${start} const { body } = await client.call(getEvent, { params: { eventId: 'x' } }); export const n: number = body.startsOn;`;
  expect(tsc('wrong-type.ts', wrong)).toContain("Type 'string' is not assignable to type 'number'");
});

test('a list comes page after page', async () => {
  const { token } = await t.mint('organizer');
  const own = await createTestEvent(t);
  const numbers = [];
  for (let i = 0; i < 5; i += 1) numbers.push((await createTestEntry(t, own)).carNumber);
  const pages: string[][] = [];
  const calling = client.openClient({ address: `${addressOf(t)}/`, token });
  const wanted = { params: { eventId: own.eventId }, query: { limit: 2 } };
  for await (const { body } of calling.pages(client.listEntries, wanted))
    pages.push(body.entries.map(({ carNumber }) => carNumber));
  expect(pages.map((page) => page.length)).toEqual([2, 2, 1]);
  expect(pages.flat()).toEqual(numbers);
});

test('what may be repeated is, with one key; what may not is not', async () => {
  const seen: { method: string | undefined; key: unknown }[] = [];
  let answers: (() => { status: number; retryAfter?: string } | 'none')[] = [];
  const server = createServer((request, reply) => {
    seen.push({ method: request.method, key: request.headers['idempotency-key'] });
    request.resume();
    const answer = answers.shift()?.() ?? { status: 201 };
    if (answer === 'none') return void reply.destroy();
    const headers = {
      'content-type': 'application/json',
      ...(answer.retryAfter ? { 'retry-after': answer.retryAfter } : {}),
    };
    reply.writeHead(answer.status, headers).end('{"code":"overloaded","title":"x","status":503}');
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  const calling = client.openClient({ address, waitMs: 1 });
  const venue = { body: { name: 'x', timeZone: 'Etc/UTC' } };
  try {
    answers = [() => ({ status: 503, retryAfter: '1' }), () => 'none'];
    const startedAt = performance.now();
    await calling.call(client.createVenue, venue);
    expect(performance.now() - startedAt).toBeGreaterThan(900);
    expect(seen.map(({ method }) => method)).toEqual(['POST', 'POST', 'POST']);
    expect(seen[0]?.key).toMatch(/^[0-9a-f-]{36}$/);
    expect(new Set(seen.map(({ key }) => key)).size).toBe(1);

    seen.length = 0;
    answers = [() => 'none'];
    const change = calling.call(client.replaceVenue, { params: { venueId: 'x' }, ...venue });
    await expect(change).rejects.toBeInstanceOf(client.Unreachable);
    expect(seen).toHaveLength(1);

    seen.length = 0;
    answers = Array.from({ length: 4 }, () => () => ({ status: 503 }));
    const refused = calling.call(client.listVenues, {});
    await expect(refused).rejects.toMatchObject({ status: 503, problem: { code: 'overloaded' } });
    expect(seen).toHaveLength(4);
    // A refusal that stays is asked once.
    seen.length = 0;
    answers = [() => ({ status: 409 })];
    await expect(calling.call(client.createVenue, venue)).rejects.toMatchObject({ status: 409 });
    expect(seen).toHaveLength(1);
  } finally {
    server.closeAllConnections();
    server.close();
  }
});
