import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, submit, type TestEntry, type TestEvent } from '../support/event.ts';
import { sql } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;
let first: TestEntry;
let second: TestEntry;

beforeAll(async () => {
  t = await startTestApp({ own: true });
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
  first = await createTestEntry(t, event);
  second = await createTestEntry(t, event);
  await accept(t, event, first);
  await submit(t, second);
});

const audit = async (query = '') =>
  (await t.api('chief').get(`/v1/events/${event.eventId}/audit${query}`).expect(200)).body;
const kinds = (body: { faults: { kind: string }[] }) => [...new Set(body.faults.map((fault) => fault.kind))].toSorted();

/** Changes the records as somebody would who has the database in his hands. */
async function tamper(text: string, values: unknown[] = []): Promise<void> {
  await sql(t, 'ALTER TABLE history DISABLE TRIGGER history_immutable');
  try {
    await sql(t, text, values);
  } finally {
    await sql(t, 'ALTER TABLE history ENABLE TRIGGER history_immutable');
  }
}

test('what was written fits, with the number of rows and the head', async () => {
  const body = await audit();
  expect(body).toMatchObject({ intact: true, entries: 2, faults: [] });
  const [count] = await sql<{ n: number }>(
    t,
    'SELECT count(*)::int AS n FROM history h JOIN entries e ON e.id = h.entry_id WHERE e.event_id = $1',
    [event.eventId],
  );
  expect(body.rows).toBe(count?.n);
  expect(body.head.seq).toBe(body.rows);
});

test('an event without entries has an empty chain', async () => {
  const empty = await createTestEvent(t);
  const { body } = await t.api('chief').get(`/v1/events/${empty.eventId}/audit`);
  expect(body).toMatchObject({ intact: true, rows: 0, head: { seq: 0, hash: '' } });
});

describe('shows', () => {
  test('a row whose content was changed', async () => {
    await tamper(`UPDATE history SET data = data || '{"x": 1}' WHERE entry_id = $1 AND seq = 1`, [first.entryId]);
    const body = await audit();
    expect(body.faults).toContainEqual(
      expect.objectContaining({ kind: 'row-changed', carNumber: first.carNumber, seq: 1 }),
    );
  });

  test('a row that is missing, in the middle and at the end', async () => {
    await tamper('DELETE FROM history WHERE entry_id = $1 AND seq = 1', [first.entryId]);
    expect(kinds(await audit())).toEqual(expect.arrayContaining(['entry-chain-broken', 'event-chain-broken']));
    await tamper(`DELETE FROM history WHERE entry_id = $1`, [second.entryId]);
    expect(kinds(await audit())).toContain('event-chain-broken');
  });

  test('rows of two cars that changed places, although each chain of its own still fits', async () => {
    const swap = `UPDATE history SET event_seq = CASE entry_id WHEN $1::uuid THEN b.seq ELSE a.seq END
      FROM (SELECT event_seq AS seq FROM history WHERE entry_id = $1 AND seq = 1) a,
           (SELECT event_seq AS seq FROM history WHERE entry_id = $2 AND seq = 1) b
      WHERE entry_id IN ($1, $2) AND history.seq = 1`;
    // the unique index is checked row by row: it has to go for the swap
    await sql(t, 'DROP INDEX history_event_id_event_seq_key');
    await tamper(swap, [first.entryId, second.entryId]);
    await sql(t, 'CREATE UNIQUE INDEX history_event_id_event_seq_key ON history (event_id, event_seq)');
    expect(kinds(await audit())).toEqual(['event-chain-broken']);
  });

  test('a clearance that was changed past the history', async () => {
    const forged = `UPDATE clearances SET facts = jsonb_set(facts, '{holds}', '[{"holdId": "h", "reason": "r"}]')
      WHERE entry_id = $1`;
    await sql(t, forged, [first.entryId]);
    expect(kinds(await audit())).toEqual(['clearance-differs']);
  });

  test('a history that was written anew as a whole, to somebody who noted the head', async () => {
    const before = await audit();
    await submit(t, first);
    const noted = `?seq=${before.head.seq}&hash=${before.head.hash}`;
    expect((await audit(noted)).intact).toBe(true);
    expect(kinds(await audit(`?seq=${before.head.seq}&hash=${'0'.repeat(64)}`))).toEqual(['head-differs']);
  });
});

test('is asked with seq and hash or with neither, by organizer and chief, for an event that exists', async () => {
  const path = `/v1/events/${event.eventId}/audit`;
  expect((await t.api('organizer').get(`${path}?seq=1`)).status).toBe(400);
  expect((await t.api('inspector').get(path)).status).toBe(403);
  expect((await t.api('chief').get('/v1/events/019ab8f0-0000-7000-8000-00000000dead/audit')).status).toBe(404);
});

test('cars of one event written at the same time make one chain', async () => {
  const entries = await Promise.all(Array.from({ length: 12 }, () => createTestEntry(t, event)));
  await Promise.all(entries.map((entry) => submit(t, entry)));
  const body = await audit();
  expect(body).toMatchObject({ intact: true, entries: 14 });
});
