import { randomUUID } from 'node:crypto';
import type { Socket } from 'node:net';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { inTransaction } from '../../src/platform/database/db.ts';
import { lockEntry } from '../../src/records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../src/records/history/history.ts';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import { createTestEntry, createTestEvent, submit, type TestEntry, type TestEvent } from '../support/event.ts';
import { type EventReader, fillHistory, openReader, type StreamMessage } from '../support/event-source.ts';
import { sql } from '../support/records.ts';
import { sealed, sealedSize } from '../support/sealed.ts';
import { waitFor } from '../support/wait.ts';
import { SIZE } from '../support/size.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

/** Whether a connection listens for tokens that changed. */
async function hears(test: TestApp): Promise<boolean> {
  const rows = await sql(
    test,
    "SELECT 1 FROM pg_stat_activity WHERE query = 'LISTEN gridworthy_tokens' AND state = 'idle'",
  );
  return rows.length > 0;
}

let t: TestApp;
let event: TestEvent;
let marshal: TestToken;
const open: EventReader[] = [];

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
  marshal = await t.mint('marshal');
});
afterEach(() => {
  // A token may have so many open and no more.
  for (const reader of open.splice(0)) reader.cut();
});
afterAll(() => t.close());

const pathOf = ({ eventId }: { eventId: string }) => `/v1/events/${eventId}/stream`;

async function follow(
  of: TestEvent = event,
  options: { token?: string; lastId?: string; onMessage?(message: StreamMessage): void } = {},
): Promise<EventReader> {
  // A stream begins at what is sealed: what was written before it is not to come as news.
  if (options.lastId === undefined) await sealed(t);
  const reader = await openReader(t, pathOf(of), { token: marshal.token, ...options });
  open.push(reader);
  return reader;
}

/** Appends rows to the history of an entry, as use cases do. */
function writeRows(entryId: string, rows: number): Promise<void> {
  return inTransaction(t.deps.db.prisma, async (tx) => {
    const entry = await lockEntry(tx, entryId);
    if (entry === undefined) throw new Error('no entry');
    const actor = { tokenId: marshal.tokenId, role: 'marshal' as const, name: 'Test' };
    for (let i = 0; i < rows; i += 1) {
      await recordEntryHistory(tx, entry, { actor, at: t.clock.now(), action: 'test.written', requestId: undefined });
    }
  });
}

const headOf = (of: TestEvent): Promise<number> => sealedSize(t, of);

/** What the stream must have said, from the table itself. */
async function rowsAfter({ eventId }: TestEvent, seq: number): Promise<[string, string, string][]> {
  const rows = await sql<{ id: string; entry_id: string; action: string }>(
    t,
    `SELECT (l.index + 1)::text AS id, h.entry_id, h.action FROM event_leaves l JOIN history h ON h.id = l.history_id
      WHERE l.event_id = $1 AND l.index >= $2 ORDER BY l.index`,
    [eventId, seq],
  );
  return rows.map((row) => [row.id, row.entry_id, row.action]);
}

const told = (messages: readonly StreamMessage[]) =>
  messages
    .filter((message) => message.event === 'entry-changed')
    .map(({ id, data }) => [id, data['entryId'], data['action']]);

const say = (text: string) => process.stdout.write(`${text}\n`);

describe('a stream', () => {
  test('begins with the head, and tells what happens, with no name in it', async () => {
    const entry = await createTestEntry(t, event);
    const head = await headOf(event);
    const reader = await follow();
    expect(reader.status).toBe(200);
    expect(reader.headers).toMatchObject({
      'content-type': 'text/event-stream; charset=utf-8',
      'cache-control': 'no-store, no-transform',
      'x-accel-buffering': 'no',
    });
    expect(reader.headers['content-encoding']).toBeUndefined();
    const hello = await waitFor('hello', () => reader.messages[0]);
    expect(hello).toEqual({ id: String(head), event: 'hello', data: { eventId: event.eventId, head } });
    expect(reader.retryMs).toBe(3000);

    expect((await submit(t, entry)).status).toBe(201);
    const change = await waitFor('the submission', () => reader.messages[1]);
    const [row] = await sql<{ at: Date }>(t, 'SELECT max(at) AS at FROM history WHERE entry_id = $1', [entry.entryId]);
    expect(change).toEqual({
      id: String(head + 1),
      event: 'entry-changed',
      data: {
        eventId: event.eventId,
        entryId: entry.entryId,
        carNumber: entry.carNumber,
        action: 'inspection.submitted',
        at: row?.at.toISOString(),
        status: 'in-line',
      },
    });
  });

  test('shows a hold within a second, each time', async () => {
    const entry = await createTestEntry(t, event);
    const arrived: number[] = [];
    const reader = await follow(event, { onMessage: () => arrived.push(performance.now()) });
    await waitFor('hello', () => reader.messages[0]);
    const delays: number[] = [];
    for (let i = 1; i <= 5; i += 1) {
      await t
        .api('inspector')
        .post(`/v1/entries/${entry.entryId}/holds`)
        .send({ reason: `leak ${i}` })
        .expect(201);
      const start = performance.now();
      await waitFor('the hold', () => reader.messages[i], 1000);
      delays.push((arrived[i] ?? Infinity) - start);
      expect(reader.messages[i]?.data).toMatchObject({ action: 'hold.placed', status: 'held', entryId: entry.entryId });
    }
    say(`hold on the stream after ${delays.map((ms) => Math.round(ms)).join(', ')} ms from its answer`);
    expect(Math.max(...delays)).toBeLessThan(1000);
  });

  test('also tells what nobody announced, and after the connection that hears was lost', async () => {
    const entry = await createTestEntry(t, event);
    const reader = await follow();
    await waitFor('hello', () => reader.messages[0]);
    await fillHistory(t, event, entry, 1, { announced: false });
    await waitFor('the row, by looking every 2 seconds', () => reader.messages[1], 4000);
    const heard = `FROM pg_stat_activity WHERE application_name = 'gridworthy-listen' AND datname = current_database()`;
    const [ended] = await sql<{ n: number }>(t, `SELECT count(pg_terminate_backend(pid))::int AS n ${heard}`);
    expect(ended?.n).toBe(1);
    await fillHistory(t, event, entry, 1, { announced: false });
    await waitFor('the row', () => reader.messages[2], 4000);
    await waitFor('a new connection', async () => (await sql<object>(t, `SELECT pid ${heard}`)).length === 1);
  });
});

describe('resuming', () => {
  const { rows: ROWS, cuts: CUTS } = SIZE.stream;
  test(`with connections that are cut ${CUTS} times while ${ROWS} rows are written tells all of them, each once`, async () => {
    const of = await createTestEvent(t);
    const entries: TestEntry[] = [];
    for (let i = 0; i < 4; i += 1) entries.push(await createTestEntry(t, of));
    const start = await headOf(of);
    const work = { done: false };
    const writer = (async () => {
      for (let i = 0; i < ROWS / 4; i += 1) {
        // Four entries at once: which of them is sealed first is open.
        await Promise.all(entries.map(({ entryId }) => writeRows(entryId, 1)));
      }
      work.done = true;
    })();
    const all: StreamMessage[] = [];
    let lastId = String(start);
    let cuts = 0;
    while (cuts < CUTS || !work.done || Number(lastId) < start + ROWS) {
      const reader = await follow(of, { lastId });
      const bytes = Math.floor(Math.random() * 3000);
      if (cuts < CUTS) await cutAfter(reader, bytes, Math.random() * 60);
      else await waitFor('the rest', () => reader.ended || Number(reader.lastId) >= start + ROWS, 60_000);
      reader.cut();
      all.push(...reader.messages);
      ({ lastId } = reader);
      cuts += 1;
    }
    await writer;
    say(`${cuts} connections, ${all.length} messages`);
    expect(all.every((message) => message.event === 'entry-changed')).toBe(true);
    expect(told(all)).toHaveLength(ROWS);
    expect(told(all)).toEqual(await rowsAfter(of, start));
  });

  test.each([
    ['an id that there is not yet', '4000000', 'unknown-id'],
    ['an id that is no number', 'f6b1-7', 'unknown-id'],
    ['a negative one', '-1', 'unknown-id'],
    ['one that is too large for any', '99999999999999999999', 'unknown-id'],
  ])('from %s resets', async (_what, lastId, reason) => {
    const reader = await follow(event, { lastId });
    const head = await headOf(event);
    const message = await waitFor('the reset', () => reader.messages[0]);
    expect(message).toEqual({ id: String(head), event: 'reset', data: { eventId: event.eventId, head, reason } });
  });

  test('from too long ago resets, from less tells', async () => {
    const of = await createTestEvent(t);
    const entry = await createTestEntry(t, of);
    const first = await headOf(of);
    await fillHistory(t, of, entry, 5001);
    await headOf(of);
    const far = await follow(of, { lastId: String(first) });
    expect(await waitFor('the reset', () => far.messages[0])).toMatchObject({
      id: String(first + 5001),
      event: 'reset',
      data: { reason: 'too-far-behind' },
    });
    const near = await follow(of, { lastId: String(first + 1) });
    await waitFor('all of them', () => near.messages.length >= 5000);
    expect(near.messages.map(({ id }) => Number(id))).toEqual(Array.from({ length: 5000 }, (_, i) => first + 2 + i));
  });
});

/** Cuts after so many bytes, or after the time when so many do not come. */
async function cutAfter(reader: EventReader, bytes: number, milliseconds: number): Promise<void> {
  let seen = 0;
  await new Promise<void>((resolve) => {
    setTimeout(resolve, milliseconds);
    reader.onChunk = (arrived) => {
      seen += arrived;
      if (seen >= bytes) resolve();
    };
  });
}

describe('a client that takes nothing', () => {
  test('costs next to no memory, and is told to read again what it missed', async () => {
    const of = await createTestEvent(t);
    const entry = await createTestEntry(t, of);
    const sockets: Socket[] = [];
    t.app.server.on('connection', (socket: Socket) => sockets.push(socket));
    const head = await headOf(of);
    const reader = await follow(of);
    await waitFor('hello', () => reader.messages[0]);
    reader.response.pause();
    const other = await follow(of, { lastId: String(head) });
    // About 18 MB, several times what the operating system buffers between the two.
    for (let written = 4000; written <= 72_000; written += 4000) {
      await fillHistory(t, of, entry, 4000);
      await waitFor('the other client', () => Number(other.lastId) === head + written);
      expect(Math.max(...sockets.map(({ writableLength }) => writableLength))).toBeLessThan(100_000);
    }
    expect(other.messages).toHaveLength(72_000);
    const before = reader.messages.length;
    reader.response.resume();
    const reset = await waitFor('the reset', () => reader.messages.find((message) => message.event === 'reset'));
    expect(reset).toMatchObject({ id: String(head + 72_000), data: { reason: 'too-far-behind' } });
    const ids = reader.messages.filter((message) => message.event === 'entry-changed').map(({ id }) => Number(id));
    say(`a client that slept got ${before} messages at first, ${ids.length} of 72000 before its reset`);
    expect(ids).toEqual(ids.map((_, i) => head + 1 + i));
    expect(ids.length).toBeLessThan(67_000);
    await writeRows((await createTestEntry(t, of)).entryId, 1);
    await waitFor('what comes after', () => told(reader.messages).length === ids.length + 2);
  });
});

describe('access', () => {
  test('nobody, an entrant and an unknown event get 401, 403 and 404, as problems', async () => {
    const entry = await createTestEntry(t, event);
    const status = async (path: string, token?: string) => {
      const reader = await openReader(t, path, token === undefined ? {} : { token });
      await waitFor('the end', () => reader.ended);
      expect(reader.headers['content-type']).toMatch(/^application\/problem\+json/);
      return reader.status;
    };
    expect(await status(pathOf(event))).toBe(401);
    expect(await status(pathOf(event), entry.entrant.token)).toBe(403);
    expect(await status(pathOf({ eventId: UNKNOWN }), marshal.token)).toBe(404);
    expect(await status(pathOf({ eventId: 'x' }), marshal.token)).toBe(400);
    // A token has no place in an address.
    expect(await status(`${pathOf(event)}?token=${marshal.token}`)).toBe(401);
    expect(await status(`${pathOf(event)}?token=${marshal.token}`, marshal.token)).toBe(400);
  });

  test('tells of no other event', async () => {
    const other = await createTestEvent(t);
    const foreign = await createTestEntry(t, other);
    const own = await createTestEntry(t, event);
    const reader = await follow(event);
    await waitFor('hello', () => reader.messages[0]);
    await writeRows(foreign.entryId, 3);
    await writeRows(own.entryId, 1);
    await waitFor('the own row', () => reader.messages[1]);
    expect(reader.messages.slice(1).map(({ data }) => data['entryId'])).toEqual([own.entryId]);
  });

  test('HEAD ends, and leaves no stream open', async () => {
    const { token } = await t.mint('marshal');
    for (let i = 0; i < 15; i += 1) {
      const answer = await t.app.inject({
        method: 'HEAD',
        url: pathOf(event),
        headers: { authorization: `Bearer ${token}` },
      });
      expect([answer.statusCode, answer.body]).toEqual([200, '']);
    }
  });

  test('a token that is revoked ends its streams at once, and no other', async () => {
    const gone = await t.mint('inspector', { holder: randomUUID() });
    const [own, other] = [await follow(event, { token: gone.token }), await follow()];
    await waitFor('hello', () => own.messages[0] !== undefined && other.messages[0] !== undefined);
    // The connection that hears of it is opened with the first stream.
    await waitFor('listening', () => hears(t));
    await t.api('organizer').delete(`/v1/tokens/${gone.tokenId}`).expect(204);
    const start = performance.now();
    await waitFor('the end', () => own.ended, 5000);
    const ms = Math.round(performance.now() - start);
    say(`revoked token: ended after ${ms} ms`);
    expect(ms).toBeLessThanOrEqual(200);
    expect(other.ended).toBe(false);
    expect((await follow(event, { token: gone.token })).status).toBe(401);
  });
  test('a token that expires ends them too', async () => {
    const short = await t.mint('marshal', { holder: randomUUID() });
    await sql(t, 'UPDATE tokens SET expires_at = $2 WHERE id = $1', [short.tokenId, '2026-06-10T08:01:00Z']);
    const [own, other] = [await follow(event, { token: short.token }), await follow()];
    await waitFor('hello', () => own.messages[0] !== undefined && other.messages[0] !== undefined);
    t.clock.set('2026-06-10T08:01:00.000Z');
    try {
      await waitFor('the end', () => own.ended, 5000);
      expect(other.ended).toBe(false);
    } finally {
      t.clock.set(TEST_NOW);
    }
  });
});
