import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  signOff,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { actionsOf, sql } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const post = (
  entry: TestEntry,
  key: string | undefined,
  body: object = { answers: GOOD_ANSWERS },
  as: TestToken = entry.entrant,
) => {
  const request = t.api(as).post(`/v1/entries/${entry.entryId}/inspections`);
  return (key === undefined ? request : request.set('idempotency-key', key)).send(body);
};
const revisions = (entry: TestEntry) => t.deps.db.prisma.inspection.count({ where: { entryId: entry.entryId } });
const records = (key: string) => t.deps.db.prisma.idempotency.count({ where: { key } });

describe('submitting with one key', () => {
  test.each([50, 200])('%i times at once makes one revision, and all answers are equal', async (times) => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    const answers = await Promise.all(Array.from({ length: times }, () => post(entry, key)));
    expect(answers.map((answer) => answer.status)).toEqual(Array.from({ length: times }, () => 201));
    const fresh = answers.filter((answer) => answer.headers['idempotency-replayed'] === undefined);
    expect(fresh).toHaveLength(1);
    for (const answer of answers) {
      expect(answer.body).toEqual(fresh[0]?.body);
      expect(answer.headers['location']).toBe(fresh[0]?.headers['location']);
    }
    expect(await revisions(entry)).toBe(1);
    expect(await actionsOf(t, entry.entryId)).toEqual(['entry.created', 'inspection.submitted']);
    expect(await t.deps.db.prisma.ticket.count({ where: { entryId: entry.entryId } })).toBe(1);
  });

  test('that somebody uses between its reading and the write: nothing is written, his answer is replayed', async () => {
    const entry = await createTestEntry(t, event);
    const [first, second] = [randomUUID(), randomUUID()];
    const { body } = await post(entry, first);
    const client = await t.deps.db.pool.connect();
    try {
      await client.query('BEGIN');
      await client.query(
        `INSERT INTO idempotency (principal, route, key, fingerprint, status, headers, body, expires_at)
         SELECT principal, route, $2, fingerprint, status, headers, body, expires_at FROM idempotency WHERE key = $1`,
        [first, second],
      );
      const waiting = post(entry, second).then((answer) => answer);
      // The write stands behind the record that is not committed yet, and was not there when it was looked for.
      for (let look = 0; look < 500; look += 1) {
        const { rows } = await t.deps.db.pool.query(
          `SELECT 1 FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'`,
        );
        if (rows.length > 0) break;
        await new Promise((done) => setTimeout(done, 10));
      }
      await client.query('COMMIT');
      const answer = await waiting;
      expect(answer.headers['idempotency-replayed']).toBe('true');
      expect(answer.body).toEqual(body);
    } finally {
      client.release();
    }
    expect(await revisions(entry)).toBe(1);
    expect(await actionsOf(t, entry.entryId)).toEqual(['entry.created', 'inspection.submitted']);
  });

  test('and another body is refused', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    await post(entry, key);
    const other = await post(entry, key, { answers: { ...GOOD_ANSWERS, 'brake.pedal': 'long' } });
    expect(other.status).toBe(422);
    expect(other.body.code).toBe('idempotency-key-reused');
    expect(await revisions(entry)).toBe(1);
  });

  test('and the same body with its members in another order is the same request', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    await post(entry, key);
    const turned = Object.fromEntries(Object.entries(GOOD_ANSWERS).reverse());
    expect((await post(entry, key, { answers: turned })).headers['idempotency-replayed']).toBe('true');
  });

  test('by another caller, or for another entry, runs afresh', async () => {
    const [entry, other] = [await createTestEntry(t, event), await createTestEntry(t, event)];
    const secondPhone = await t.mint('entrant', { entryId: entry.entryId });
    const both = await t.mint('entrant', { entryId: other.entryId });
    const key = randomUUID();
    expect((await post(entry, key)).body.revision).toBe(1);
    expect((await post(entry, key, undefined, secondPhone)).body.revision).toBe(2);
    expect((await post(other, key, undefined, both)).body).toMatchObject({ entryId: other.entryId, revision: 1 });
  });

  test('for one entry whose id is written in the other case is a repeat', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    await post(entry, key);
    const loud = { ...entry, entryId: entry.entryId.toUpperCase() };
    expect((await post(loud, key)).headers['idempotency-replayed']).toBe('true');
    expect(await revisions(entry)).toBe(1);
  });

  test('quoted and bare is the same key', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    await post(entry, `"${key}"`);
    expect((await post(entry, key)).headers['idempotency-replayed']).toBe('true');
  });

  test('is answered again after the window has closed', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    const first = await post(entry, key);
    t.clock.set('2026-06-13T12:00:00Z');
    const again = await post(entry, key);
    expect(again.status).toBe(201);
    expect(again.body).toEqual(first.body);
    t.clock.set(TEST_NOW);
  });
});

describe('the key', () => {
  test('is needed', async () => {
    const entry = await createTestEntry(t, event);
    for (const key of [undefined, '']) {
      const answer = await post(entry, key);
      expect(answer.status).toBe(400);
      expect(answer.body.code).toBe('idempotency-key-required');
    }
    expect(await revisions(entry)).toBe(0);
  });

  test.each(['""', 'a b', 'x'.repeat(256), 'schlüssel'])('is refused as %j', async (key) => {
    const entry = await createTestEntry(t, event);
    const answer = await post(entry, Buffer.from(key, 'utf8').toString('latin1'));
    expect(answer.status).toBe(400);
    expect(answer.body.errors).toEqual([expect.objectContaining({ pointer: '/idempotency-key', in: 'header' })]);
  });

  test('may have 255 characters', async () => {
    expect((await post(await createTestEntry(t, event), 'x'.repeat(255))).status).toBe(201);
  });
});

describe('a refusal leaves no record', () => {
  test('so that the same key works once the cause is gone', async () => {
    const entry = await createTestEntry(t, event);
    const key = randomUUID();
    const tooLate = '2026-06-12T18:00:00Z';
    t.clock.set(tooLate);
    expect((await post(entry, key)).status).toBe(409);
    t.clock.set(TEST_NOW);
    expect((await post(entry, key, { answers: { 'brake.pedal': 'soft' } })).status).toBe(422);
    expect(await records(key)).toBe(0);
    expect((await post(entry, key)).status).toBe(201);
    expect(await records(key)).toBe(1);
  });

  test('nor does a number that JSON has and a computer has not', async () => {
    const entry = await createTestEntry(t, event);
    const answer = await t
      .api(entry.entrant)
      .post(`/v1/entries/${entry.entryId}/inspections`)
      .set('idempotency-key', randomUUID())
      .set('content-type', 'application/json')
      .send('{"answers":{"pad.thickness":{"FL.in":1e400}}}');
    expect([400, 422]).toContain(answer.status);
    expect(answer.body.errors[0].pointer).toBe('/answers/pad.thickness/FL.in');
  });
});

test('a record is kept for 14 days, and then the key is new', async () => {
  const entry = await createTestEntry(t, event);
  const key = randomUUID();
  await post(entry, key);
  const [kept] = await sql<{ days: number }>(
    t,
    'SELECT extract(epoch FROM expires_at - created_at)::float8 / 86400 AS days FROM idempotency WHERE key = $1',
    [key],
  );
  expect(kept?.days).toBe(14);
  await sql(t, `UPDATE idempotency SET expires_at = now() WHERE key = $1`, [key]);
  expect((await post(entry, key)).body.revision).toBe(2);
});

describe('signing off with one key', () => {
  test('50 times at once is one decision', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const { body } = await claim(t, event, entry.carNumber);
    const key = randomUUID();
    const decision = { decision: 'accept', stickerNumber: `K${entry.carNumber}` };
    const answers = await Promise.all(
      Array.from({ length: 50 }, () => signOff(t, body.claimId, decision, 'inspector', key)),
    );
    expect(new Set(answers.map((answer) => answer.status))).toEqual(new Set([201]));
    for (const answer of answers) expect(answer.body).toEqual(answers[0]?.body);
    expect(answers.filter((answer) => answer.headers['idempotency-replayed'] === 'true')).toHaveLength(49);
    expect(await t.deps.db.prisma.signOff.count({ where: { entryId: entry.entryId } })).toBe(1);
    const other = await signOff(t, body.claimId, { ...decision, note: 'again' }, 'inspector', key);
    expect(other.body.code).toBe('idempotency-key-reused');
    const fresh = await signOff(t, body.claimId, decision);
    expect(fresh.status).toBe(409);
    expect(fresh.body).toMatchObject({ code: 'state-moved-on', currentState: 'signed-off' });
  });
});
