import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, submit, type TestEntry, type TestEvent } from '../support/event.ts';
import { sql, tamper } from '../support/records.ts';
import { sealed, signed } from '../support/sealed.ts';

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
  await signed(t);
});

const audit = async (query = '') =>
  (await t.api('chief').get(`/v1/events/${event.eventId}/audit${query}`).expect(200)).body;
const kinds = (body: { faults: { kind: string }[] }) => [...new Set(body.faults.map((fault) => fault.kind))].toSorted();

test('what was written fits, with the number of rows and the head', async () => {
  const body = await audit();
  expect(body).toMatchObject({ intact: true, entries: 2, faults: [] });
  const [count] = await sql<{ n: number }>(t, 'SELECT count(*)::int AS n FROM history WHERE event_id = $1', [
    event.eventId,
  ]);
  expect(body.rows).toBe(count?.n);
  expect(body).toMatchObject({ sealed: body.rows, unsealed: 0, head: { seq: body.rows } });
  expect(body.signedHead).toMatchObject({ size: body.rows, root: body.head.hash });
});

test('an event of which nothing was changed has an empty chain', async () => {
  const {
    eventId: _id,
    timeZone: _zone,
    declarations: _open,
    createdAt: _at,
    ...like
  } = (await t.api('organizer').get(`/v1/events/${event.eventId}`)).body;
  const empty = await t.api('organizer').post('/v1/events').send(like).expect(201);
  const { body } = await t.api('chief').get(`/v1/events/${empty.body.eventId}/audit`);
  expect(body).toMatchObject({ intact: true, rows: 0, head: { seq: 0, hash: '' } });
});

describe('shows', () => {
  test('a row whose content was changed', async () => {
    await tamper(t, `UPDATE history SET data = data || '{"x": 1}' WHERE entry_id = $1 AND seq = 1`, [first.entryId]);
    const body = await audit();
    expect(body.faults).toContainEqual(
      expect.objectContaining({ kind: 'row-changed', carNumber: first.carNumber, seq: 1 }),
    );
  });

  test('a row that is missing, in the middle and at the end', async () => {
    await tamper(t, 'DELETE FROM history WHERE entry_id = $1 AND seq = 1', [first.entryId]);
    expect(kinds(await audit())).toEqual(expect.arrayContaining(['entry-chain-broken', 'row-missing']));
    await tamper(t, `DELETE FROM history WHERE entry_id = $1`, [second.entryId]);
    expect(kinds(await audit())).toContain('row-missing');
  });

  test('a row that was added, past the sealer and through it', async () => {
    const copy = `INSERT INTO history (id, entry_id, seq, action, actor_id, actor_role, actor_name, at, data, prev_hash, hash, event_id)
      SELECT gen_random_uuid(), entry_id, seq + 1, action, actor_id, actor_role, actor_name, at, data, hash, hash, event_id
      FROM history WHERE entry_id = $1 ORDER BY seq DESC LIMIT 1`;
    await tamper(t, copy, [first.entryId]);
    expect(kinds(await audit())).toEqual(
      expect.arrayContaining(['row-changed', 'row-not-sealed', 'entry-chain-broken']),
    );
    await sql(t, copy, [second.entryId]);
    await sealed(t);
    expect((await audit()).faults).toContainEqual(
      expect.objectContaining({ kind: 'entry-chain-broken', entryId: second.entryId }),
    );
  });

  test('rows of two cars that changed places, although each chain of its own still fits', async () => {
    const swap = `UPDATE event_leaves l SET history_id = o.history_id %
      FROM event_leaves o JOIN history h ON h.id = o.history_id
      WHERE l.event_id = o.event_id AND l.history_id = ANY($1) AND o.history_id = ANY($1) AND o.history_id <> l.history_id`;
    const rows = await sql<{ id: string }>(t, 'SELECT id FROM history WHERE entry_id = ANY($1) AND seq = 1', [
      [first.entryId, second.entryId],
    ]);
    // the unique index is checked row by row: it has to go for the swap
    await sql(t, 'DROP INDEX event_leaves_history_id_key');
    await tamper(t, swap.replace('%', ''), [rows.map(({ id }) => id)]);
    expect(kinds(await audit())).toEqual(['leaf-differs']);
    // Whoever knows more writes the hashes of the leaves too.
    await tamper(
      t,
      `UPDATE event_leaves l SET leaf_hash = sha256('\\x00'::bytea || decode(h.hash, 'hex'))
      FROM history h WHERE h.id = l.history_id`,
    );
    await sql(t, 'CREATE UNIQUE INDEX event_leaves_history_id_key ON event_leaves (history_id)');
    expect(kinds(await audit())).toEqual(['head-differs', 'tree-differs']);
  });

  test('a leaf that is missing, although the row is there', async () => {
    await tamper(t, 'DELETE FROM event_leaves WHERE event_id = $1 AND index = 1', [event.eventId]);
    expect(kinds(await audit())).toEqual(expect.arrayContaining(['leaf-differs', 'row-not-sealed', 'tree-differs']));
  });

  test('a signed head that was changed, and one that another key signed', async () => {
    const forged = Buffer.alloc(32, 7);
    const newestHead = `UPDATE event_heads e SET root = $2 FROM event_trees t
      WHERE e.event_id = $1 AND t.event_id = e.event_id AND t.size = e.size`;
    await tamper(t, newestHead, [event.eventId, forged]);
    expect(kinds(await audit())).toEqual(['head-differs']);
    await tamper(
      t,
      `UPDATE event_heads e SET root = t.root, jws = regexp_replace(jws, '[^.]+$', repeat('A', 86))
        FROM event_trees t WHERE t.event_id = e.event_id AND e.event_id = $1 AND t.size = e.size`,
      [event.eventId],
    );
    expect((await audit()).faults).toEqual([
      expect.objectContaining({ kind: 'head-differs', detail: expect.stringContaining('signature') }),
    ]);
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
    await sealed(t);
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

test('cars of one event written at the same time make one tree', async () => {
  const entries = await Promise.all(Array.from({ length: 12 }, () => createTestEntry(t, event)));
  await Promise.all(entries.map((entry) => submit(t, entry)));
  await sealed(t);
  const body = await audit();
  expect(body).toMatchObject({ intact: true, entries: 14, unsealed: 0 });
});
