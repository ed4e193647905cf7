import { HTTP } from 'cloudevents';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { removeOldDeliveries } from '../../src/features/notify/delivery-store.ts';
import { RETRY_DELAYS_S } from '../../src/features/notify/webhook-attempt.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEntry, type TestEvent } from '../support/event.ts';
import { sql } from '../support/records.ts';
import {
  createHook,
  deliveriesOf,
  ping,
  readHook,
  type Receiver,
  runDueJobs,
  runJob,
  startReceiver,
  verify,
} from '../support/webhooks.ts';
import { sealed } from '../support/sealed.ts';

let t: TestApp;
let event: TestEvent;
let entry: TestEntry;
let receiver: Receiver;

beforeAll(async () => {
  t = await startTestApp({ config: { webhookAllow: ['127.0.0.1'] } });
  event = await createTestEvent(t);
  entry = await createTestEntry(t, event);
});
afterAll(() => t.close());
beforeEach(async () => {
  receiver = await startReceiver();
});
afterEach(async () => {
  receiver.close();
  await t.deps.db.prisma.webhook.deleteMany();
  await sql(t, `DELETE FROM outbox WHERE name LIKE 'webhook.%'`);
});

const hookFor = (types: string[] = ['hold.placed']) => createHook(t, { url: receiver.url, types });
const hold = (reason = 'leak') =>
  t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason }).expect(201);
const ids = () => receiver.received.map(({ headers }) => headers['webhook-id']);
const LATEST_S = RETRY_DELAYS_S.map((delay) => delay * 1.1 + 1);

/** Moves the clock past the next attempt and makes it. */
async function wait(seconds = 0): Promise<void> {
  t.clock.advance(seconds * 1000);
  await runDueJobs(t);
}

test('a webhook of CloudEvents sends events that the reference library reads, signed, the same in each attempt', async () => {
  receiver.answers = (count) => ({ status: count === 1 ? 500 : 204 });
  const { webhookId, secret } = await createHook(t, {
    url: receiver.url,
    types: ['hold.placed'],
    format: 'cloudevents',
  });
  expect((await readHook(t, webhookId))['format']).toBe('cloudevents');
  await hold();
  await wait();
  await wait(10);
  expect(receiver.received).toHaveLength(2);
  const [first, second] = receiver.received;
  if (first === undefined || second === undefined) throw new Error('nothing was sent');
  expect(second.body).toBe(first.body);
  expect(verify(t, secret, second)).toMatchObject({ specversion: '1.0', type: 'hold.placed' });
  // CloudEvents 1.0: the library validates on reading.
  const read = HTTP.toEvent({ headers: { 'content-type': second.headers['content-type'] ?? '' }, body: second.body });
  expect(read).toMatchObject({
    id: second.headers['webhook-id'],
    subject: `entries/${entry.entryId}`,
    data: { entryId: entry.entryId, status: 'held', admit: false },
  });
  const changed = await t
    .api('organizer')
    .patch(`/v1/webhooks/${webhookId}`)
    .set('if-match', '"1"')
    .send({ format: 'plain' });
  expect(changed.status).toBe(400);
});

describe('a receiver', () => {
  test('that fails three times and then works gets one message with one id in four attempts', async () => {
    receiver.answers = (count) => ({ status: count <= 3 ? 500 : 200, body: `answer ${count}` });
    const { webhookId, secret } = await hookFor();
    const at = t.clock.now();
    await hold();
    await wait();
    expect(receiver.received).toHaveLength(1);
    for (const [index, delay] of [5, 300, 1800].entries()) {
      // Never sooner than the schedule of Standard Webhooks 1.0, and at most a tenth later.
      await wait(delay - 1);
      expect(receiver.received).toHaveLength(index + 1);
      await wait(delay * 0.1 + 2);
      expect(receiver.received).toHaveLength(index + 2);
    }
    await wait(86_400);
    expect(receiver.received).toHaveLength(4);
    expect(new Set(ids()).size).toBe(1);
    expect(new Set(receiver.received.map(({ body }) => body)).size).toBe(1);
    // The time is that of the attempt, so each has a signature of its own.
    const stamps = receiver.received.map(({ headers }) => Number(headers['webhook-timestamp']));
    expect(stamps[0]).toBe(Math.floor(at.getTime() / 1000));
    expect(new Set(stamps).size).toBe(4);
    const [delivery] = await deliveriesOf(t, webhookId);
    expect(delivery).toMatchObject({ state: 'delivered', messageId: ids()[0] });
    expect(delivery?.attempts.map(({ number, status, answer }) => [number, status, answer])).toEqual([
      [1, 500, 'answer 1'],
      [2, 500, 'answer 2'],
      [3, 500, 'answer 3'],
      [4, 200, 'answer 4'],
    ]);
    expect(secret).toMatch(/^whsec_/);
    expect(await readHook(t, webhookId)).toMatchObject({ enabled: true, failures: 0 });
  });

  test('that never takes a message is tried ten times over days, then disabled with the reason; nothing is sent after', async () => {
    receiver.answers = () => ({ status: 503 });
    const { webhookId } = await hookFor();
    await hold();
    await wait();
    for (const delay of LATEST_S) await wait(delay);
    expect(receiver.received).toHaveLength(10);
    const hook = await readHook(t, webhookId);
    expect(hook).toMatchObject({ enabled: false, failures: 10 });
    expect(hook['disabledReason']).toMatch(/^10 attempts to deliver msg_\w+ failed\. The last answer was 503\.$/);
    expect((await deliveriesOf(t, webhookId))[0]).toMatchObject({ state: 'failed' });
    await hold();
    await wait(86_400 * 3);
    expect(receiver.received).toHaveLength(10);
  });

  test('that takes other messages is not disabled by one that it never takes', async () => {
    const bad = { id: '' };
    receiver.answers = (count) => {
      bad.id ||= String(receiver.received[0]?.headers['webhook-id']);
      return { status: receiver.received[count - 1]?.headers['webhook-id'] === bad.id ? 500 : 204 };
    };
    const { webhookId } = await hookFor();
    await hold();
    await wait();
    await wait(10);
    await hold();
    for (const delay of LATEST_S) await wait(delay);
    expect((await deliveriesOf(t, webhookId)).map(({ state }) => state)).toEqual(['delivered', 'failed']);
    expect(await readHook(t, webhookId)).toMatchObject({ enabled: true });
  });

  test('that is gone (410) is disabled at once, what waits is cancelled, and it says why', async () => {
    receiver.answers = () => ({ status: 410 });
    const { webhookId } = await hookFor();
    await hold();
    await hold();
    await wait();
    await wait(86_400);
    expect(receiver.received).toHaveLength(1);
    expect(await readHook(t, webhookId)).toMatchObject({
      enabled: false,
      disabledReason: 'The receiver answered 410 Gone.',
    });
    expect((await deliveriesOf(t, webhookId)).map(({ state }) => state)).toEqual(['cancelled', 'failed']);
  });

  test('is not followed elsewhere: a redirect is a failure that is tried again', async () => {
    receiver.answers = (_count, path) =>
      path === '/in' ? { status: 302, headers: { location: '/elsewhere' } } : { status: 200 };
    const { webhookId } = await hookFor();
    await hold();
    await wait();
    expect(receiver.received).toHaveLength(1);
    const [delivery] = await deliveriesOf(t, webhookId);
    expect(delivery).toMatchObject({ state: 'pending', attempts: [{ number: 1, status: 302 }] });
  });

  test.each([
    [429, '120', 120],
    [503, '90', 90],
    [429, '', 60],
    [502, '', 60],
    [504, '', 60],
    [429, 'Thu, 01 Jan 1970 00:00:00 GMT', 60],
    // Bounded: nobody silences us for a year.
    [429, '31536000', 3600],
  ])(
    'that answers %i with Retry-After "%s" gets nothing for %i s, also no other message',
    async (status, header, seconds) => {
      receiver.answers = (count) => (count > 1 ? { status: 204 } : { status, headers: { 'retry-after': header } });
      const { webhookId } = await hookFor();
      await hold();
      await wait();
      await hold();
      await wait(seconds - 1);
      expect(receiver.received).toHaveLength(1);
      await wait(2);
      expect(receiver.received.length).toBeGreaterThan(1);
      await wait(seconds * 0.1 + 5);
      expect(receiver.received).toHaveLength(3);
      expect((await deliveriesOf(t, webhookId)).map(({ state }) => state)).toEqual(['delivered', 'delivered']);
    },
  );

  test('that is slow or dead holds up no other', async () => {
    const dead = await createHook(t, { url: 'http://127.0.0.1:9999/nobody', types: ['hold.placed'] });
    const { webhookId } = await hookFor();
    await hold();
    await wait();
    expect(receiver.received).toHaveLength(1);
    const [lost] = await deliveriesOf(t, dead.webhookId);
    expect(lost).toMatchObject({
      state: 'pending',
      attempts: [{ error: 'The connection was not made, or broke.' }],
    });
    expect((await deliveriesOf(t, webhookId))[0]).toMatchObject({ state: 'delivered' });
  });

  test('whose name leads to nothing that is allowed gets nothing, and the error says no more than that', async () => {
    const { webhookId } = await createHook(t, { url: 'https://no-such-host.invalid/', types: ['hold.placed'] });
    await hold();
    await wait();
    const [delivery] = await deliveriesOf(t, webhookId);
    expect(delivery?.attempts.map(({ error }) => error)).toEqual([
      'The address is not one that webhooks may go to, or its name is not known.',
    ]);
  });

  test('whose answer is long is kept by its first kilobyte', async () => {
    receiver.answers = () => ({ status: 200, body: 'ä\u0000'.repeat(5000) });
    const { webhookId } = await hookFor();
    await ping(t, webhookId);
    await wait();
    const answer = (await deliveriesOf(t, webhookId))[0]?.attempts[0]?.answer ?? '';
    expect(answer.length).toBeGreaterThan(100);
    expect(Buffer.byteLength(answer.replaceAll('\ufffd', '?'))).toBeLessThanOrEqual(1024);
    expect(answer).not.toContain('\u0000');
  });
});

describe('a secret that was replaced', () => {
  test('signs for 24 hours beside the new one, and then no more', async () => {
    const { webhookId, secret: old } = await hookFor();
    const rotated = await t.api('organizer').post(`/v1/webhooks/${webhookId}/secret`).expect(200);
    const { secret, previousEndsAt } = rotated.body;
    expect(new Date(previousEndsAt).getTime() - t.clock.now().getTime()).toBe(24 * 3_600_000);
    await hold();
    await wait(3600);
    const [first] = receiver.received;
    if (first === undefined) throw new Error('nothing came');
    expect(verify(t, old, first)).toMatchObject({ type: 'hold.placed' });
    expect(verify(t, secret, first)).toMatchObject({ type: 'hold.placed' });
    await wait(23 * 3600);
    await hold();
    await wait();
    const second = receiver.received[1];
    if (second === undefined) throw new Error('nothing came');
    expect(verify(t, secret, second)).toMatchObject({ type: 'hold.placed' });
    expect(() => verify(t, old, second)).toThrow();
  });

  test('twice in a day leaves all three in force, and a message never has more than five signatures', async () => {
    const { webhookId, secret } = await hookFor();
    const secrets = [secret];
    for (let i = 0; i < 2; i += 1) {
      secrets.push((await t.api('organizer').post(`/v1/webhooks/${webhookId}/secret`)).body.secret);
    }
    await ping(t, webhookId);
    await wait();
    for (const one of secrets) expect(verify(t, one, receiver.received[0]!)).toBeTruthy();
    for (let i = 0; i < 6; i += 1) await t.api('organizer').post(`/v1/webhooks/${webhookId}/secret`).expect(200);
    await ping(t, webhookId);
    await wait();
    expect(String(receiver.received[1]?.headers['webhook-signature']).split(' ')).toHaveLength(5);
  });
});

describe('a replay', () => {
  test('sends the same bytes under the same id, and keeps the attempts before it', async () => {
    const { webhookId } = await hookFor();
    await hold();
    await wait();
    const [delivery] = await deliveriesOf(t, webhookId);
    const path = `/v1/webhooks/${webhookId}/deliveries/${delivery?.deliveryId}/replay`;
    t.clock.advance(3_600_000);
    const again = await t.api('organizer').post(path).expect(202);
    expect(again.body).toMatchObject({ deliveryId: delivery?.deliveryId, state: 'pending' });
    const twice = await t.api('organizer').post(path);
    expect([twice.status, twice.body.code, twice.body.currentState]).toEqual([409, 'state-moved-on', 'pending']);
    await wait();
    expect(receiver.received).toHaveLength(2);
    expect(new Set(ids()).size).toBe(1);
    expect(receiver.received[0]?.body).toBe(receiver.received[1]?.body);
    const [after] = await deliveriesOf(t, webhookId);
    expect(after?.attempts.map(({ number }) => number)).toEqual([1, 2]);
    expect(after?.state).toBe('delivered');
  });

  test('of a failed message starts the whole schedule anew, once the webhook is enabled again', async () => {
    receiver.answers = (count) => ({ status: count === 1 ? 410 : count < 4 ? 500 : 204 });
    const { webhookId } = await hookFor();
    await hold();
    await wait();
    const [delivery] = await deliveriesOf(t, webhookId);
    const path = `/v1/webhooks/${webhookId}/deliveries/${delivery?.deliveryId}/replay`;
    const refused = await t.api('organizer').post(path);
    expect([refused.status, refused.body.currentState]).toEqual([409, 'disabled']);
    expect((await t.api('organizer').post(`/v1/webhooks/${webhookId}/test`)).status).toBe(409);
    await t
      .api('organizer')
      .patch(`/v1/webhooks/${webhookId}`)
      .set('if-match', '*')
      .send({ enabled: true })
      .expect(200);
    await t.api('organizer').post(path).expect(202);
    await wait();
    for (const delay of LATEST_S.slice(0, 2)) await wait(delay);
    expect(receiver.received).toHaveLength(4);
    expect(new Set(ids()).size).toBe(1);
    expect((await deliveriesOf(t, webhookId))[0]?.state).toBe('delivered');
  });
});

describe('a webhook that is removed', () => {
  test('gets nothing more, and leaves nothing', async () => {
    receiver.answers = () => ({ status: 500 });
    const { webhookId } = await hookFor();
    await hold();
    await wait();
    await t.api('organizer').delete(`/v1/webhooks/${webhookId}`).expect(204);
    await wait(86_400);
    expect(receiver.received).toHaveLength(1);
    expect((await t.api('organizer').delete(`/v1/webhooks/${webhookId}`)).status).toBe(404);
    expect(await sql(t, 'SELECT 1 FROM webhook_deliveries UNION ALL SELECT 1 FROM webhook_attempts')).toEqual([]);
  });

  test('while a message is on its way to it is no fault', async () => {
    const { webhookId } = await hookFor();
    receiver.answers = async () => {
      await t.api('organizer').delete(`/v1/webhooks/${webhookId}`).expect(204);
      return { status: 200 };
    };
    await ping(t, webhookId);
    await runDueJobs(t);
    expect(receiver.received).toHaveLength(1);
    expect(await sql(t, 'SELECT 1 FROM webhook_deliveries UNION ALL SELECT 1 FROM webhook_attempts')).toEqual([]);
  });
});

describe('jobs that run twice or at once', () => {
  test('make one delivery of a message and send it once', async () => {
    const { webhookId } = await hookFor(['hold.placed', 'clearance.changed']);
    const placed = await hold('twice');
    const requestId = placed.headers['x-request-id'];
    await sealed(t);
    const [fanOut] = await sql<{ payload: unknown }>(
      t,
      `SELECT payload FROM outbox WHERE name = 'webhook.fan-out' AND request_id = $1`,
      [requestId],
    );
    await Promise.all([1, 2, 3, 4].map(() => runJob(t, 'webhook.fan-out', fanOut?.payload)));
    await runJob(t, 'webhook.fan-out', fanOut?.payload);
    const kept = await deliveriesOf(t, webhookId);
    expect(kept.filter(({ type }) => type === 'hold.placed')).toHaveLength(1);
    const payload = { webhookId, wakeAt: t.clock.now().toISOString() };
    await Promise.all([1, 2, 3, 4, 5, 6].map(() => runJob(t, 'webhook.deliver', payload)));
    await wait();
    await runJob(t, 'webhook.deliver', payload);
    expect(receiver.received).toHaveLength(kept.length);
    expect(new Set(ids()).size).toBe(kept.length);
  });

  test('leave a webhook alone that another worker is sending to, and see to it when that one died', async () => {
    const { webhookId } = await hookFor();
    await ping(t, webhookId);
    await sql(t, `UPDATE webhooks SET busy_until = clock_timestamp() + interval '1 minute'`);
    await runDueJobs(t);
    expect(receiver.received).toHaveLength(0);
    const [watch] = await sql<{ run_at: Date; payload: unknown }>(
      t,
      `SELECT run_at, payload FROM outbox WHERE name = 'webhook.deliver' AND done_at IS NULL`,
    );
    // By the database's clock, which is the one that leases go by.
    expect(Math.abs((watch?.run_at.getTime() ?? 0) - Date.now() - 60_000)).toBeLessThan(20_000);
    await sql(t, `UPDATE webhooks SET busy_until = clock_timestamp() - interval '1 second'`);
    await runJob(t, 'webhook.deliver', watch?.payload);
    expect(receiver.received).toHaveLength(1);
  });

  test('give no worker to a failing receiver while four others have one; a working one goes ahead', async () => {
    const works = await hookFor();
    const failing: string[] = [];
    for (let i = 0; i < 5; i += 1) failing.push((await hookFor()).webhookId);
    const [last = '', ...busy] = failing;
    await sql(t, 'UPDATE webhooks SET failures = 1 WHERE id = ANY($1)', [failing]);
    await sql(t, `UPDATE webhooks SET busy_until = clock_timestamp() + interval '1 minute' WHERE id = ANY($1)`, [busy]);
    await ping(t, works.webhookId);
    await ping(t, last);
    await runDueJobs(t);
    expect((await deliveriesOf(t, works.webhookId))[0]?.state).toBe('delivered');
    expect((await deliveriesOf(t, last))[0]?.state).toBe('pending');
    await sql(t, 'UPDATE webhooks SET busy_until = NULL');
    await wait(15);
    expect((await deliveriesOf(t, last))[0]?.state).toBe('delivered');
  });

  test('that the queue forgot are in the outbox still: every message that waits has a job ordered', async () => {
    receiver.answers = () => ({ status: 500 });
    const { webhookId } = await hookFor();
    await hold();
    await wait();
    const [delivery] = await deliveriesOf(t, webhookId);
    const open = await sql<{ run_at: Date }>(
      t,
      `SELECT run_at FROM outbox WHERE name = 'webhook.deliver' AND done_at IS NULL AND payload ->> 'webhookId' = $1`,
      [webhookId],
    );
    expect(open.map((row) => row.run_at.toISOString())).toEqual([delivery?.dueAt]);
  });
});

test('finished deliveries are forgotten after 30 days, also where nothing is sent any more', async () => {
  const { webhookId } = await hookFor();
  await ping(t, webhookId);
  await wait();
  await ping(t, webhookId);
  await wait(29 * 86_400);
  await removeOldDeliveries(t.deps);
  expect(await deliveriesOf(t, webhookId)).toHaveLength(2);
  t.clock.advance(2 * 86_400_000);
  await removeOldDeliveries(t.deps, AbortSignal.abort());
  expect(await deliveriesOf(t, webhookId)).toHaveLength(2);
  await removeOldDeliveries(t.deps);
  // The second one waited for its turn and finished on the 29th day.
  expect(await deliveriesOf(t, webhookId)).toHaveLength(1);
  t.clock.advance(30 * 86_400_000);
  await removeOldDeliveries(t.deps);
  expect(await deliveriesOf(t, webhookId)).toHaveLength(0);
});
