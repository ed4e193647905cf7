import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { listChanges } from '../../src/features/notify/publish-store.ts';
import { inTransaction } from '../../src/platform/database/db.ts';
import { lockEntry } from '../../src/records/locks/entry-lock.ts';
import { recordEntryHistory } from '../../src/records/history/history.ts';
import { startSealer } from '../../src/records/history/seal.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEntry, type TestEvent } from '../support/event.ts';
import { openReader } from '../support/event-source.ts';
import { sql } from '../support/records.ts';
import { sealed, sealedSize } from '../support/sealed.ts';
import { waitFor } from '../support/wait.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
});

const ACTOR = { tokenId: '019ab8f0-0000-7000-8000-0000000000aa', role: 'marshal' as const, name: 'Test' };

/** Writes a row to the history of an entry, as use cases do; `before` is awaited between the write and the commit. */
function write({ entryId }: TestEntry, data: Record<string, unknown> = {}, before?: () => Promise<unknown>) {
  return inTransaction(t.deps.db.prisma, async (tx) => {
    const entry = await lockEntry(tx, entryId);
    if (entry === undefined) throw new Error('no entry');
    await recordEntryHistory(tx, entry, {
      actor: ACTOR,
      at: t.clock.now(),
      action: 'test.written',
      data,
      requestId: undefined,
    });
    await before?.();
  });
}

async function makeEntries(count: number): Promise<TestEntry[]> {
  const entries: TestEntry[] = [];
  for (let i = 0; i < count; i += 1) entries.push(await createTestEntry(t, event));
  return entries;
}

/** A write that was made and is committed when it is told to. */
async function openWrite(entry: TestEntry): Promise<{ commit(): Promise<void> }> {
  let [wrote, release] = [() => {}, () => {}];
  const written = new Promise<void>((resolve) => (wrote = resolve));
  const released = new Promise<void>((resolve) => (release = resolve));
  const done = write(entry, {}, () => {
    wrote();
    return released;
  });
  await written;
  return {
    commit: () => {
      release();
      return done;
    },
  };
}

const entryOf = ({ entries }: { entries: readonly { entryId: string }[] }) => entries[0]?.entryId;

/** Follows by the cursor, as a stream does, until told to stop; gives all rows in the order in which they were read. */
function readAlong(from: number): { stop(): Promise<{ seq: number; entryId: string | undefined }[]> } {
  const state = { stopping: false };
  const reading = (async () => {
    const all: { seq: number; entryId: string | undefined }[] = [];
    let cursor = from;
    for (;;) {
      const isLast = state.stopping;
      const rows = await listChanges(t.deps.db.pool, { eventId: event.eventId, after: cursor, limit: 50 });
      all.push(...rows.map((row) => ({ seq: row.seq, entryId: entryOf(row) })));
      cursor = rows.at(-1)?.seq ?? cursor;
      if (isLast && rows.length === 0) return all;
    }
  })();
  return {
    stop: () => {
      state.stopping = true;
      return reading;
    },
  };
}

describe('a writer', () => {
  test('does not wait for one who writes to another entry of the event', async () => {
    const [first, second] = (await makeEntries(2)) as [TestEntry, TestEntry];
    const from = await sealedSize(t, event);
    const open = await openWrite(first);
    try {
      await write(second);
    } finally {
      await open.commit();
    }
    expect(await sealedSize(t, event)).toBe(from + 2);
  });

  test('who commits late is read late, once, and moves nobody', async () => {
    const [first, second] = (await makeEntries(2)) as [TestEntry, TestEntry];
    const from = await sealedSize(t, event);
    const open = await openWrite(first);
    await write(second);
    const seen = await waitFor('the second row', async () => {
      const rows = await listChanges(t.deps.db.pool, { eventId: event.eventId, after: from, limit: 10 });
      return rows.length > 0 && rows;
    });
    expect(seen.map((row) => [row.seq, entryOf(row)])).toEqual([[from + 1, second.entryId]]);
    await open.commit();
    await sealed(t);
    const rest = await listChanges(t.deps.db.pool, { eventId: event.eventId, after: from + 1, limit: 10 });
    expect(rest.map((row) => [row.seq, entryOf(row)])).toEqual([[from + 2, first.entryId]]);
  });

  test('who is rolled back leaves nothing to be sealed', async () => {
    const [entry] = (await makeEntries(1)) as [TestEntry];
    const from = await sealedSize(t, event);
    await expect(write(entry, {}, () => Promise.reject(new Error('no')))).rejects.toThrow('no');
    await write(entry);
    expect(await sealedSize(t, event)).toBe(from + 1);
  });
});

describe('a reader by the cursor', () => {
  test('sees each row once and none too few, while many write and several seal', async () => {
    const entries = await makeEntries(8);
    const from = await sealedSize(t, event);
    const others = [startSealer(t.deps), startSealer(t.deps)];
    const reader = readAlong(from);
    try {
      await Promise.all(
        entries.map(async (entry, i) => {
          // Commits come in another order than writes: each writer sits on its row for a while of its own.
          for (let n = 0; n < 25; n += 1) {
            await write(entry, { n }, () => new Promise((resolve) => setTimeout(resolve, ((i * 7 + n * 3) % 11) * 2)));
            if (n === 10) {
              await sql(
                t,
                `SELECT pg_terminate_backend(pid) FROM pg_stat_activity
                WHERE application_name LIKE 'gridworthy-seal%' AND datname = current_database()`,
              );
            }
          }
        }),
      );
      await sealed(t);
    } finally {
      await Promise.all(others.map((other) => other.stop()));
    }
    const read = await reader.stop();
    expect(read.map(({ seq }) => seq)).toEqual(Array.from({ length: 200 }, (_, i) => from + 1 + i));
    const rows = await sql<{ index: number; entry_id: string; seq: number }>(
      t,
      `SELECT l.index, h.entry_id, h.seq FROM event_leaves l JOIN history h ON h.id = l.history_id
        WHERE l.event_id = $1 ORDER BY l.index`,
      [event.eventId],
    );
    for (const { entryId } of entries) {
      const own = rows.filter((row) => row.entry_id === entryId).map(({ seq }) => seq);
      expect(own).toEqual(Array.from({ length: 26 }, (_, i) => i + 1));
    }
    const audit = await t.api('chief').get(`/v1/events/${event.eventId}/audit`).expect(200);
    expect(audit.body).toMatchObject({ intact: true, sealed: from + 200, unsealed: 0, faults: [] });
  });

  test('gets a row soon after its commit', async () => {
    const [entry] = (await makeEntries(1)) as [TestEntry];
    await sealed(t);
    const arrived: number[] = [];
    const marshal = await t.mint('marshal');
    const reader = await openReader(t, `/v1/events/${event.eventId}/stream`, {
      token: marshal.token,
      onMessage: () => arrived.push(performance.now()),
    });
    await waitFor('hello', () => reader.messages[0]);
    const delays: number[] = [];
    for (let i = 1; i <= 100; i += 1) {
      await write(entry);
      const committed = performance.now();
      await waitFor('the row', () => arrived[i]);
      delays.push((arrived[i] ?? Infinity) - committed);
    }
    reader.cut();
    const sorted = delays.toSorted((a, b) => a - b).map(Math.round);
    process.stdout.write(`commit to reader: p50 ${sorted[50]} ms, p90 ${sorted[90]} ms, p99 ${sorted[99]} ms\n`);
    // 300 ms on a quiet machine; this one runs other tests beside.
    expect(sorted[99]).toBeLessThan(1500);
  });
});

test('rows of an import are sealed in one go, and the same again from two thousand', async () => {
  const [entry] = (await makeEntries(1)) as [TestEntry];
  const from = await sealedSize(t, event);
  await sql(
    t,
    `INSERT INTO history (id, entry_id, seq, action, actor_id, actor_role, actor_name, at, data, prev_hash, hash, event_id)
      SELECT gen_random_uuid(), $2, 10 + i, 'test.written', gen_random_uuid(), 'marshal', 'Test', now(), '{}', '',
        encode(sha256(i::text::bytea), 'hex'), $1 FROM generate_series(1, 2000) i`,
    [event.eventId, entry.entryId],
  );
  // Nobody announced them.
  expect(await sealedSize(t, event)).toBe(from + 2000);
  const order = await sql<{ seq: number }>(
    t,
    `SELECT h.seq FROM event_leaves l JOIN history h ON h.id = l.history_id WHERE l.event_id = $1 ORDER BY l.index`,
    [event.eventId],
  );
  expect(order.slice(from).map(({ seq }) => seq)).toEqual(Array.from({ length: 2000 }, (_, i) => 11 + i));
});

describe('the database refuses', () => {
  test('to change or remove a leaf or a signed head', async () => {
    await makeEntries(1);
    await sealed(t);
    await expect(sql(t, 'UPDATE event_leaves SET index = index + 1')).rejects.toThrow(/append-only/);
    await expect(sql(t, 'DELETE FROM event_leaves')).rejects.toThrow(/append-only/);
    await waitFor('a signed head', async () => (await sql(t, 'SELECT 1 FROM event_heads')).length > 0);
    await expect(sql(t, 'UPDATE event_heads SET size = size + 1')).rejects.toThrow(/append-only/);
    await expect(sql(t, 'DELETE FROM event_heads')).rejects.toThrow(/append-only/);
  });

  test('a row that is about an entry and a car at once', async () => {
    const [entry] = (await makeEntries(1)) as [TestEntry];
    const insert = `INSERT INTO history (id, entry_id, car_id, seq, action, actor_id, actor_role, actor_name, at, data,
        prev_hash, hash, event_id)
      VALUES (gen_random_uuid(), $2, gen_random_uuid(), 99, 'test.written', gen_random_uuid(), 'marshal', 'Test', now(),
        '{}', '', '', $1)`;
    await expect(sql(t, insert, [event.eventId, entry.entryId])).rejects.toThrow(/history_one_subject/);
  });
});
