import { afterEach, describe, expect, test } from 'vitest';
import type { Config } from '../../src/config.ts';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEvent } from '../support/event.ts';
import { type EventReader, fillHistory, openReader } from '../support/event-source.ts';
import { createTestDatabase } from '../support/postgres.ts';
import { sql } from '../support/records.ts';
import { waitFor } from '../support/wait.ts';

const apps: TestApp[] = [];
const readers: EventReader[] = [];

afterEach(async () => {
  for (const reader of readers.splice(0)) reader.cut();
  for (const t of apps.splice(0)) await t.close();
});

async function start(config: Partial<Config> = {}, database?: Awaited<ReturnType<typeof createTestDatabase>>) {
  const t = await startTestApp({ config, ...(database && { database }) });
  apps.push(t);
  return t;
}

async function follow(t: TestApp, { eventId }: TestEvent, token: TestToken): Promise<EventReader> {
  const reader = await openReader(t, `/v1/events/${eventId}/stream`, { token: token.token });
  readers.push(reader);
  return reader;
}

const greeted = (reader: EventReader) => waitFor('hello', () => reader.messages[0]);
const say = (text: string) => process.stdout.write(`${text}\n`);
const megabytes = (bytes: number) => Math.round((bytes / 2 ** 20) * 10) / 10;

test('100 idle clients add less than 50 MB, hear every 15 seconds that all is well, and share one connection', async () => {
  const t = await start({ streamsPerToken: 100 });
  const event = await createTestEvent(t);
  const token = await t.mint('marshal');
  await greeted(await follow(t, event, token));
  const before = process.memoryUsage();
  const clients = await Promise.all(Array.from({ length: 99 }, () => follow(t, event, token)));
  await Promise.all(clients.map(greeted));
  const connections = await sql<{ name: string }>(
    t,
    `SELECT application_name AS name FROM pg_stat_activity
      WHERE datname = current_database() AND application_name = 'gridworthy-listen'`,
  );
  expect(connections).toHaveLength(1);
  await waitFor('a comment for each', () => clients.every(({ comments }) => comments > 0), 20_000);
  const after = process.memoryUsage();
  // Both ends of each connection are in this process, and so is the test itself.
  const [rss, heap] = [after.rss - before.rss, after.heapUsed - before.heapUsed];
  say(`99 more idle clients: ${megabytes(rss)} MB of RSS, ${megabytes(heap)} MB of heap`);
  expect(rss).toBeLessThan(50 * 2 ** 20);
  expect(clients.every(({ messages, ended }) => messages.length === 1 && !ended)).toBe(true);
});

test('two processes on one database tell the same', async () => {
  const database = await createTestDatabase();
  const [one, two] = [await start({}, database), await start({}, database)];
  const event = await createTestEvent(one);
  const token = await one.mint('inspector');
  const clients = [await follow(one, event, token), await follow(two, event, token)];
  await Promise.all(clients.map(greeted));
  const entries = [await createTestEntry(one, event), await createTestEntry(two, event)];
  for (const [i, t] of [one, two].entries()) {
    const began = performance.now();
    await t.api('inspector').post(`/v1/entries/${entries[i]?.entryId}/holds`).send({ reason: 'leak' }).expect(201);
    const held = (reader: EventReader) =>
      reader.messages.some(({ data }) => data['action'] === 'hold.placed' && data['entryId'] === entries[i]?.entryId);
    await waitFor('both to tell', () => clients.every(held), 1000);
    say(`told by both processes within ${Math.round(performance.now() - began)} ms of the request`);
  }
  // What was set up before may still have come to the one that connected first.
  const [mine, others] = clients.map(({ messages }) => messages.filter(({ event }) => event === 'entry-changed'));
  expect(mine).toEqual(others);
});

test('a stop ends every stream at once, also one that takes nothing', async () => {
  const t = await start({ streamsPerToken: 50 });
  const event = await createTestEvent(t);
  const entry = await createTestEntry(t, event);
  const token = await t.mint('marshal');
  const clients = await Promise.all(Array.from({ length: 6 }, () => follow(t, event, token)));
  await Promise.all(clients.map(greeted));
  const [stuck, ...others] = clients;
  stuck?.response.pause();
  // More than the operating system buffers between the two.
  for (let written = 4000; written <= 40_000; written += 4000) {
    await fillHistory(t, event, entry, 4000);
    await waitFor('the others', () => others.every(({ messages }) => messages.length > written));
  }
  apps.splice(0);
  const began = performance.now();
  await t.close();
  const ms = performance.now() - began;
  say(`stopped with 6 streams open in ${Math.round(ms)} ms`);
  expect(ms).toBeLessThan(1500);
  await waitFor('the ends', () => others.every(({ ended }) => ended), 500);
  // A whole answer, not one that was cut off.
  expect(others.every(({ response }) => response.complete)).toBe(true);
  stuck?.response.resume();
  await waitFor('the end of what was on its way', () => stuck?.ended);
  expect(stuck?.response.complete).toBe(false);
});

describe('too many', () => {
  test('of one token are refused with 429, of all with 503, until one is closed', async () => {
    const t = await start({ streamsPerToken: 2, streamsPerProcess: 3 });
    const event = await createTestEvent(t);
    const [one, other] = [await t.mint('marshal'), await t.mint('chief')];
    const first = await follow(t, event, one);
    await follow(t, event, one);
    const third = await follow(t, event, one);
    await waitFor('the problem', () => third.ended);
    expect([third.status, third.headers['retry-after']]).toEqual([429, '15']);
    expect(JSON.parse(third.text)).toMatchObject({ code: 'too-many-streams', status: 429 });
    expect((await follow(t, event, other)).status).toBe(200);
    const last = await follow(t, event, other);
    await waitFor('the problem', () => last.ended);
    expect([last.status, last.headers['retry-after']]).toEqual([503, '15']);
    expect(JSON.parse(last.text)).toMatchObject({ code: 'streams-full', status: 503 });
    first.cut();
    await waitFor('room', async () => {
      const again = await follow(t, event, one);
      if (again.status === 200) return true;
      again.cut();
      return false;
    });
  });

  test('that come at once cannot all be the last', async () => {
    const t = await start({ streamsPerToken: 4 });
    const event = await createTestEvent(t);
    const token = await t.mint('marshal');
    const clients = await Promise.all(Array.from({ length: 20 }, () => follow(t, event, token)));
    expect(clients.filter(({ status }) => status === 200)).toHaveLength(4);
    expect(clients.filter(({ status }) => status === 429)).toHaveLength(16);
  });

  test('are not, when what was asked for does not exist', async () => {
    const t = await start({ streamsPerToken: 2 });
    const token = await t.mint('marshal');
    for (let i = 0; i < 5; i += 1) {
      const reader = await follow(t, { eventId: '019ab8f0-0000-7000-8000-00000000dead' } as TestEvent, token);
      expect(reader.status).toBe(404);
    }
  });
});
