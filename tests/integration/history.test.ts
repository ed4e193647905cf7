import { createHash } from 'node:crypto';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, submit, type TestEvent } from '../support/event.ts';
import { carHistoryOf, historyOf, sql, tamper } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp({ own: true });
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

interface Row {
  of: 'entry' | 'car';
  seq: number;
  at: string;
  action: string;
  actor: { role: string; name: string };
  data: Record<string, unknown>;
  prevHash: string;
  hash: string;
}
const read = async (entryId: string, as: Parameters<TestApp['api']>[0] = 'marshal') => {
  const { body } = await t.api(as).get(`/v1/entries/${entryId}/history`).expect(200);
  return body as { history: Row[]; intact: boolean; brokenAt?: number };
};
const hold = (entryId: string, reason: string) =>
  t.api('inspector').post(`/v1/entries/${entryId}/holds`).send({ reason });
async function withSomeHistory() {
  const entry = await createTestEntry(t, event);
  await accept(t, event, entry);
  await hold(entry.entryId, 'leak');
  return entry;
}
describe('the history of an entry', () => {
  test('tells everything in order: who, when, what', async () => {
    const entry = await withSomeHistory();
    const { history, intact } = await read(entry.entryId);
    expect(intact).toBe(true);
    expect(history.map((row) => [row.of, row.seq, row.action, row.actor.role])).toEqual([
      ['entry', 1, 'entry.created', 'organizer'],
      ['entry', 2, 'inspection.submitted', 'entrant'],
      ['entry', 3, 'ticket.claimed', 'inspector'],
      ['entry', 4, 'entry.signed-off', 'inspector'],
      ['car', 1, 'hold.placed', 'inspector'],
    ]);
    expect(history.every((row) => row.at === TEST_NOW)).toBe(true);
    expect(history[4]?.data).toMatchObject({ event: { type: 'car-held', reason: 'leak' } });
  });

  test('is a chain that anybody can recompute: SHA-256 over canonical JSON (RFC 8785) of row and hash before', async () => {
    const entry = await withSomeHistory();
    const rows = await historyOf(t, entry.entryId);
    let prevHash = '';
    for (const row of rows) {
      const { entryId, seq, action, actorId, actorRole, at, data } = row;
      const text = canonical({ entryId, seq, action, actorId, actorRole, at: at.toISOString(), data, prevHash });
      expect(row.prevHash).toBe(prevHash);
      prevHash = createHash('sha256').update(text).digest('hex');
      expect(row.hash).toBe(prevHash);
    }
    const head = await t.deps.db.prisma.clearance.findUniqueOrThrow({ where: { entryId: entry.entryId } });
    expect({ seq: head.historySeq, hash: head.historyHash }).toEqual({ seq: rows.length, hash: prevHash });
  });

  test('is for staff and the own entrant', async () => {
    const [entry, other] = [await withSomeHistory(), await createTestEntry(t, event)];
    expect((await read(entry.entryId, entry.entrant)).history).toHaveLength(5);
    expect((await t.api(other.entrant).get(`/v1/entries/${entry.entryId}/history`)).status).toBe(404);
    expect((await t.api('organizer').get(`/v1/entries/${UNKNOWN}/history`)).status).toBe(404);
  });

  test('holds no names or addresses in its data', async () => {
    const entry = await createTestEntry(t, event, { entrant: { name: 'Ines Haldorsen', email: 'ines@example.org' } });
    await submit(t, entry);
    const rows = await historyOf(t, entry.entryId);
    expect(JSON.stringify(rows.map((row) => row.data))).not.toMatch(/Haldorsen|example\.org/);
  });
});

/** RFC 8785 for what stands in a history: keys sorted by UTF-16 code units, no white space, numbers as ECMAScript prints them. */
function canonical(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`;
  if (typeof value !== 'object' || value === null) return JSON.stringify(value);
  const members = Object.entries(value)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([key, part]) => `${JSON.stringify(key)}:${canonical(part)}`);
  return `{${members.join(',')}}`;
}

describe('nobody changes it', () => {
  test('the database refuses to update and to delete', async () => {
    const { entryId } = await withSomeHistory();
    await expect(sql(t, `UPDATE history SET action = 'x' WHERE entry_id = $1`, [entryId])).rejects.toThrow(
      /append-only/,
    );
    await expect(sql(t, 'DELETE FROM history WHERE entry_id = $1', [entryId])).rejects.toThrow(/append-only/);
    expect((await read(entryId)).intact).toBe(true);
  });

  test.each([
    ['a changed action', `UPDATE history SET action = 'entry.forgotten' WHERE entry_id = $1 AND seq = 4`, 4],
    [
      'changed facts',
      `UPDATE history SET data = jsonb_set(data, '{event,decision}', '"refuse"') WHERE entry_id = $1 AND seq = 4`,
      4,
    ],
    ['another actor', `UPDATE history SET actor_role = 'chief' WHERE entry_id = $1 AND seq = 3`, 3],
    ['another time', `UPDATE history SET at = at - interval '1 hour' WHERE entry_id = $1 AND seq = 2`, 2],
    ['a missing row', 'DELETE FROM history WHERE entry_id = $1 AND seq = 3', 3],
    ['a missing last row', 'DELETE FROM history WHERE entry_id = $1 AND seq = 4', 4],
    [
      'a missing row of its car',
      'DELETE FROM history WHERE car_id = (SELECT car_id FROM clearances WHERE entry_id = $1) AND seq = 1',
      1,
    ],
    [
      'two rows that changed places',
      'UPDATE history SET seq = CASE seq WHEN 2 THEN 103 ELSE 102 END WHERE entry_id = $1 AND seq IN (2, 3)',
      2,
    ],
  ])('%s is named', async (_what, statement, brokenAt) => {
    const { entryId } = await withSomeHistory();
    await tamper(t, statement, [entryId]);
    if (statement.includes('CASE'))
      await tamper(t, 'UPDATE history SET seq = seq - 100 WHERE entry_id = $1 AND seq > 100', [entryId]);
    const { intact, brokenAt: named } = await read(entryId);
    expect({ intact, named }).toEqual({ intact: false, named: brokenAt });
  });

  test('a name can be erased without breaking the chain', async () => {
    const { entryId } = await withSomeHistory();
    await tamper(t, `UPDATE history SET actor_name = 'erased' WHERE entry_id = $1`, [entryId]);
    expect((await read(entryId)).intact).toBe(true);
  });
});

test('20 writers at once leave no gap, no branch and no lost row', async () => {
  const entry = await createTestEntry(t, event);
  const answers = await Promise.all(Array.from({ length: 20 }, (_, i) => hold(entry.entryId, `hold ${i}`)));
  expect(answers.every((answer) => answer.status === 201)).toBe(true);
  const { history, intact } = await read(entry.entryId);
  expect(intact).toBe(true);
  expect(history.slice(1).map((row) => row.seq)).toEqual(Array.from({ length: 20 }, (_, i) => i + 1));
  const told = history.slice(1).map((row) => (row.data['event'] as { reason: string }).reason);
  expect([...told].sort()).toEqual(Array.from({ length: 20 }, (_, i) => `hold ${i}`).sort());
});

test('a reader among 20 writers always sees an unbroken chain', async () => {
  const entry = await createTestEntry(t, event);
  const reads: Promise<{ intact: boolean; history: Row[] }>[] = [];
  const writes = Array.from({ length: 20 }, (_, i) => {
    reads.push(read(entry.entryId));
    return hold(entry.entryId, `hold ${i}`);
  });
  await Promise.all(writes);
  expect((await Promise.all(reads)).map((one) => one.intact)).toEqual(Array.from({ length: 20 }, () => true));
});

test('a change that fails leaves no history', async () => {
  const entry = await createTestEntry(t, event);
  const before = (await carHistoryOf(t, entry.entryId)).length;
  await sql(t, `ALTER TABLE outbox ADD CONSTRAINT none CHECK (name <> 'entrant.tell') NOT VALID`);
  const answer = await hold(entry.entryId, 'leak');
  await sql(t, 'ALTER TABLE outbox DROP CONSTRAINT none');
  expect(answer.status).toBe(500);
  expect(answer.text).not.toMatch(/constraint|outbox|INSERT/i);
  expect((await carHistoryOf(t, entry.entryId)).length).toBe(before);
  expect(await t.deps.db.prisma.hold.count({ where: { entryId: entry.entryId } })).toBe(0);
});
