import { randomUUID } from 'node:crypto';
import { afterEach, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent } from '../support/event.ts';
import { waitFor } from '../support/wait.ts';

let t: TestApp;
afterEach(() => t.close());

/** Status and code of everything that matters under pressure. */
async function answers(eventId: string, carNumber: string) {
  const line = await t.api('inspector').get(`/v1/events/${eventId}/line`);
  const gate = await t.api('marshal').get(`/v1/events/${eventId}/gate/${carNumber}`);
  const unknown = await t.api('marshal').get(`/v1/events/${eventId}/gate/999`);
  const health = await t.api(undefined).get('/healthz');
  return { line, gate, unknown, health };
}

const isShed = async (eventId: string) => (await t.api('inspector').get(`/v1/events/${eventId}/line`)).status === 503;

describe('when all connections to the database are taken for longer than the limit', () => {
  test('everything but the gate, stops and health is refused with Retry-After, until they are free again', async () => {
    t = await startTestApp({ config: { poolSize: 2, maxWaitMs: 1500 } });
    const event = await createTestEvent(t);
    const { carNumber, entryId } = await createTestEntry(t, event);
    const other = await createTestEntry(t, event, { carNumber: '8' });
    // Before the pressure: minting needs the connections that are taken.
    const marshals = await Promise.all([1, 2, 3, 4, 5, 6].map((n) => t.mint('marshal', { holder: `Marshal ${n}` })));
    const taken = await Promise.all([t.deps.db.pool.connect(), t.deps.db.pool.connect()]);
    // Marshals do not notice, even while the others still wait in vain.
    const early = await t.api('marshal').get(`/v1/events/${event.eventId}/gate/${carNumber}`);
    expect([early.status, early.body.status]).toEqual([200, 'no-declaration']);
    await new Promise((resolve) => setTimeout(resolve, 2500));

    const { line, gate, unknown, health } = await answers(event.eventId, carNumber);
    expect(line.body).toMatchObject({ code: 'overloaded', status: 503 });
    expect(line.headers).toMatchObject({
      'retry-after': '2',
      'content-type': 'application/problem+json; charset=utf-8',
    });
    expect([gate.status, gate.body.admit, unknown.status, health.status]).toEqual([200, false, 200, 200]);

    // A stop gets through, from every marshal at once, and the gate knows it.
    const holds = await Promise.all(
      marshals.map((marshal, n) =>
        t
          .api(marshal)
          .post(`/v1/entries/${entryId}/holds`)
          .send({ reason: `smoke ${n}` }),
      ),
    );
    expect(holds.map(({ status }) => status)).toEqual([201, 201, 201, 201, 201, 201]);
    const held = await t.api('marshal').get(`/v1/events/${event.eventId}/gate/${carNumber}`);
    expect(held.body.status).toBe('held');
    const withdrawn = await t.api('organizer').post(`/v1/entries/${other.entryId}/withdraw`);
    expect([withdrawn.status, withdrawn.body.clearance?.status]).toEqual([200, 'withdrawn']);

    for (const connection of taken) connection.release();
    await waitFor('the end of the pressure', async () => !(await isShed(event.eventId)));
    const after = await t.api('organizer').get(`/v1/entries/${entryId}`);
    expect(after.status).toBe(200);
  });
});

describe('when the heap is beyond the limit', () => {
  test('everything but the gate, stops and health is refused', async () => {
    // No process of Node.js lives on one megabyte.
    t = await startTestApp({ config: { maxHeapMb: 1 } });
    const eventId = randomUUID();
    await waitFor('the first look at the heap', () => isShed(eventId));
    const { line, gate, health } = await answers(eventId, '1');
    expect([line.status, line.body.code, line.headers['retry-after']]).toEqual([503, 'overloaded', '2']);
    expect([gate.status, gate.body.code, gate.body.admit]).toEqual([404, 'not-found', false]);
    expect(health.status).toBe(200);
    const post = await t.api('organizer').post('/v1/venues').send({ name: 'Test circuit', timeZone: 'Etc/UTC' });
    expect([post.status, post.body.code]).toEqual([503, 'overloaded']);
  });
});

describe('one caller who stops cars without end', () => {
  test('is told to wait, and the next marshal gets through; entrants count by entry', async () => {
    t = await startTestApp({ config: { rateLimitPerMinute: 100 } });
    const event = await createTestEvent(t);
    const { entryId } = await createTestEntry(t, event);
    const hold = (as: Parameters<TestApp['api']>[0]) =>
      t.api(as).post(`/v1/entries/${entryId}/holds`).send({ reason: 'smoke' });
    const answered = await Promise.all(Array.from({ length: 12 }, () => hold('marshal')));
    expect(answered.map(({ status }) => status).toSorted((a, b) => a - b)).toEqual([
      ...Array.from({ length: 10 }, () => 201),
      429,
      429,
    ]);
    const shed = answered.find(({ status }) => status === 429);
    expect(shed?.body.code).toBe('too-many-requests');
    expect(Number(shed?.headers['retry-after'])).toBeGreaterThan(0);
    expect((await hold('inspector')).status).toBe(201);

    const links = await Promise.all([1, 2].map(() => t.mint('entrant', { entryId })));
    const own = await Promise.all(links.flatMap((link) => Array.from({ length: 6 }, () => hold(link))));
    expect(own.filter(({ status }) => status === 429)).toHaveLength(2);
    expect(new Set(own.filter(({ status }) => status === 201).map(({ body }) => body.holdId)).size).toBe(1);
  });
});
