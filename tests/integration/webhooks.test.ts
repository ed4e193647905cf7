import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { MESSAGE_TYPES } from '../../src/domain/history/webhook-messages.ts';
import { openDeps } from '../../src/deps.ts';
import { conditionDueJob } from '../../src/features/line/fall-due.job.ts';
import { startJobs } from '../../src/worker.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  submit,
  type TestEvent,
} from '../support/event.ts';
import { JOB_CONTEXT } from '../support/jobs.ts';
import { logLines } from '../support/log.ts';
import { ordered, sql } from '../support/records.ts';
import {
  createHook,
  deliveriesOf,
  ping,
  readHook,
  type Receiver,
  runDueJobs,
  startReceiver,
  verify,
} from '../support/webhooks.ts';
import { waitFor } from '../support/wait.ts';
import { sealed } from '../support/sealed.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const PUBLIC = 'https://hooks.example.org/in?key=k3y-of-the-receiver';

let t: TestApp;
let event: TestEvent;
let receiver: Receiver;

beforeAll(async () => {
  t = await startTestApp({ config: { webhookAllow: ['127.0.0.1'] } });
  event = await createTestEvent(t);
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

const organizer = () => t.api('organizer');
interface Told {
  type: string;
  timestamp: string;
  data: Record<string, unknown>;
}
const told = () => receiver.received.map(({ body }) => JSON.parse(body) as Told);

describe('making a webhook', () => {
  test('shows the secret once, and never again in any answer or line of the log', async () => {
    const { log, lines } = logLines('trace');
    const loud: TestApp = { ...t, deps: { ...t.deps, log } };
    const created = await organizer()
      .post('/v1/webhooks')
      .send({
        url: receiver.url,
        types: ['hold.placed'],
        eventId: event.eventId,
        description: ' Timing ',
      });
    expect(created.status).toBe(201);
    const { secret, webhookId } = created.body;
    expect(created.body).toEqual({
      webhookId: expect.any(String),
      url: receiver.url,
      types: ['hold.placed'],
      eventId: event.eventId,
      description: 'Timing',
      format: 'plain',
      enabled: true,
      failures: 0,
      createdAt: t.clock.now().toISOString(),
      secret: expect.stringMatching(/^whsec_[A-Za-z0-9+/]{43}=$/),
    });
    expect(created.headers['location']).toBe(`/v1/webhooks/${webhookId}`);
    const { secret: second } = (await organizer().post(`/v1/webhooks/${webhookId}/secret`).expect(200)).body;
    await ping(t, webhookId);
    await runDueJobs(loud);
    const etag = (await organizer().get(`/v1/webhooks/${webhookId}`)).headers['etag'] ?? '';
    const answers = [
      await organizer().get('/v1/webhooks'),
      await organizer().get(`/v1/webhooks/${webhookId}`),
      await organizer().get(`/v1/webhooks/${webhookId}/deliveries`),
      await organizer().patch(`/v1/webhooks/${webhookId}`).set('if-match', etag).send({ enabled: false }),
      await organizer().post(`/v1/webhooks/${webhookId}/test`),
    ];
    expect(answers.map(({ status }) => status)).toEqual([200, 200, 200, 200, 409]);
    for (const one of [secret, second]) {
      for (const answer of answers) expect(answer.text).not.toContain(one);
      expect(JSON.stringify(lines)).not.toContain(one);
      expect(JSON.stringify(receiver.received)).not.toContain(one);
      const tables = await sql<{ row: string }>(
        t,
        `SELECT o::text AS row FROM outbox o UNION ALL
        SELECT d::text FROM webhook_deliveries d UNION ALL SELECT i::text FROM idempotency i`,
      );
      expect(JSON.stringify(tables)).not.toContain(one);
    }
    expect(receiver.received).toHaveLength(1);
  });

  test.each([
    ['no address', { types: ['hold.placed'] }, 400, '/url'],
    ['an address with spaces', { url: 'https://a.example /x', types: ['hold.placed'] }, 400, '/url'],
    ['an overlong address', { url: `https://a.example/${'x'.repeat(2000)}`, types: ['hold.placed'] }, 400, '/url'],
    ['no types', { url: PUBLIC, types: [] }, 400, '/types'],
    ['an unknown type', { url: PUBLIC, types: ['hold.dropped'] }, 400, '/types/0'],
    ['a type twice', { url: PUBLIC, types: ['hold.placed', 'hold.placed'] }, 400, '/types'],
    ['the type of test messages', { url: PUBLIC, types: ['webhook.test'] }, 400, '/types/0'],
    ['a secret of its own', { url: PUBLIC, types: ['hold.placed'], secret: 'whsec_aaaa' }, 400, '/secret'],
    ['an unknown event', { url: PUBLIC, types: ['hold.placed'], eventId: UNKNOWN }, 422, '/eventId'],
    ['an address without TLS', { url: 'http://hooks.example.org/', types: ['hold.placed'] }, 422, '/url'],
    ['a private address', { url: 'https://10.0.0.1/', types: ['hold.placed'] }, 422, '/url'],
  ])('is refused with %s', async (_what, body, status, pointer) => {
    const refused = await organizer().post('/v1/webhooks').send(body);
    expect(refused.status).toBe(status);
    expect(refused.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
  });

  test('is refused beyond 20, also when many come at once', async () => {
    const body = { url: PUBLIC, types: ['hold.placed'] };
    const answers = await Promise.all(Array.from({ length: 24 }, () => organizer().post('/v1/webhooks').send(body)));
    const statuses = answers.map(({ status }) => status);
    expect(statuses.filter((status) => status === 201)).toHaveLength(20);
    expect(answers.filter(({ status }) => status === 409).map(({ body }) => body.code)).toEqual(
      Array.from({ length: 4 }, () => 'too-many-webhooks'),
    );
    const page = await organizer().get('/v1/webhooks?limit=15').expect(200);
    const rest = await organizer().get(`/v1/webhooks?limit=15&cursor=${page.body.next}`).expect(200);
    expect([page.body.webhooks.length, rest.body.webhooks.length, rest.body.next]).toEqual([15, 5, undefined]);
  });

  test('and all else about webhooks is for organizers', async () => {
    const { webhookId } = await createHook(t, { url: PUBLIC, types: ['hold.placed'] });
    const { deliveryId } = await ping(t, webhookId);
    const one = `/v1/webhooks/${webhookId}`;
    for (const role of ['chief', 'inspector', 'marshal'] as const) {
      const api = t.api(role);
      const statuses = [
        await api.post('/v1/webhooks').send({ url: PUBLIC, types: ['hold.placed'] }),
        await api.get('/v1/webhooks'),
        await api.get(one),
        await api.patch(one).set('if-match', '*').send({ enabled: false }),
        await api.post(`${one}/secret`),
        await api.post(`${one}/test`),
        await api.get(`${one}/deliveries`),
        await api.post(`${one}/deliveries/${deliveryId}/replay`),
        await api.delete(one),
      ].map(({ status }) => status);
      expect(statuses).toEqual(statuses.map(() => 403));
    }
    expect(await readHook(t, webhookId)).toMatchObject({ enabled: true });
  });
});

describe('changing a webhook', () => {
  test('needs the version that was read, and changes what is given', async () => {
    const { webhookId } = await createHook(t, { url: PUBLIC, types: ['hold.placed'], description: 'a' });
    const path = `/v1/webhooks/${webhookId}`;
    expect((await organizer().patch(path).send({ enabled: false })).status).toBe(428);
    const { etag = '' } = (await organizer().get(path)).headers;
    const changed = await organizer()
      .patch(path)
      .set('if-match', etag)
      .send({ types: ['hold.lifted'], description: null });
    expect(changed.body).toMatchObject({ url: PUBLIC, types: ['hold.lifted'], enabled: true });
    expect(changed.body.description).toBeUndefined();
    expect((await organizer().patch(path).set('if-match', etag).send({ enabled: false })).status).toBe(412);
    const bad = await organizer().patch(path).set('if-match', '*').send({ url: 'https://192.168.0.1/' });
    expect([bad.status, bad.body.errors[0].pointer]).toEqual([422, '/url']);
    for (const unknown of [`/v1/webhooks/${UNKNOWN}`, `/v1/webhooks/${UNKNOWN}/deliveries`]) {
      expect((await organizer().get(unknown)).status).toBe(404);
    }
  });

  test('turns it off with a reason, cancels what waits, and turns it on again', async () => {
    const { webhookId } = await createHook(t, { url: receiver.url, types: ['hold.placed'] });
    await ping(t, webhookId);
    const path = `/v1/webhooks/${webhookId}`;
    const off = await organizer().patch(path).set('if-match', '*').send({ enabled: false }).expect(200);
    expect(off.body).toMatchObject({ enabled: false, disabledReason: 'An organizer turned it off.' });
    await runDueJobs(t);
    expect(receiver.received).toHaveLength(0);
    expect((await deliveriesOf(t, webhookId, '?state=cancelled')).map(({ state }) => state)).toEqual(['cancelled']);
    expect(await deliveriesOf(t, webhookId, '?state=pending')).toEqual([]);
    const on = await organizer().patch(path).set('if-match', '*').send({ enabled: true }).expect(200);
    expect([on.body.enabled, on.body.disabledReason]).toEqual([true, undefined]);
    await ping(t, webhookId);
    await runDueJobs(t);
    expect(told().map(({ type }) => type)).toEqual(['webhook.test']);
  });
});

describe('what happens to an entry', () => {
  test('is told from declaration to withdrawal, as the gate says it, without anything personal', async () => {
    const names = { name: 'Zora Quintrell', email: 'zora.q@example.org', phone: '+4930901820771' };
    const { webhookId, secret } = await createHook(t, {
      url: receiver.url,
      types: [...MESSAGE_TYPES],
      eventId: event.eventId,
    });
    const entry = await createTestEntry(t, event, {
      entrant: names,
      people: [{ name: 'Yorick Vandersloot', role: 'driver' }],
    });
    const at = async (step: () => Promise<unknown>) => {
      const from = receiver.received.length;
      await step();
      await runDueJobs(t);
      for (const message of receiver.received.slice(from)) expect(verify(t, secret, message)).toBeTruthy();
      const messages = told().slice(from);
      const answer = await gate(t, event, entry.carNumber);
      for (const { data } of messages) expect([data['status'], data['admit']]).toEqual([answer.status, answer.admit]);
      return messages.map(({ type }) => type);
    };
    const path = `/v1/entries/${entry.entryId}`;
    t.clock.set('2026-06-10T08:00:00Z');
    expect(await at(() => submit(t, entry, { ...GOOD_ANSWERS, 'brake.pedal': 'spongy' }))).toEqual([
      'inspection.submitted',
      'clearance.changed',
    ]);
    let concessionId = '';
    const grant = async () => {
      const body = { ruleId: 'pedal-firm', reason: 'Known to Zora Quintrell', expiresAt: '2026-06-13T12:00:00Z' };
      concessionId = (await t.api('chief').post(`${path}/concessions`).send(body).expect(201)).body.concessionId;
    };
    expect(await at(grant)).toEqual(['concession.granted', 'clearance.changed']);
    const revoke = () =>
      t.api('chief').post(`/v1/concessions/${concessionId}/revoke`).send({ reason: 'Zora' }).expect(200);
    expect(await at(revoke)).toEqual(['concession.revoked', 'clearance.changed']);
    expect(await at(() => submit(t, entry))).toEqual(['inspection.submitted', 'clearance.changed']);
    t.clock.set('2026-06-13T08:00:00Z');
    const sign = async () => {
      const claimed = await claim(t, event, entry.carNumber);
      const body = {
        decision: 'accept-with-conditions',
        stickerNumber: 'S900',
        conditions: [{ text: 'Zora torques', dueAt: '2026-06-13T10:00:00Z' }],
      };
      expect((await signOff(t, claimed.body.claimId, body)).status).toBe(201);
    };
    expect(await at(sign)).toEqual(['entry.signed-off', 'clearance.changed']);
    let holdId = '';
    const place = async () => {
      holdId = (await t.api('inspector').post(`${path}/holds`).send({ reason: 'Zora leaks' }).expect(201)).body.holdId;
    };
    expect(await at(place)).toEqual(['hold.placed', 'clearance.changed']);
    const lift = () =>
      t.api('chief').post(`/v1/holds/${holdId}/lift`).send({ reason: 'dry', requireReinspection: false }).expect(200);
    expect(await at(lift)).toEqual(['hold.lifted', 'clearance.changed']);
    expect(await at(() => t.api('organizer').post(`${path}/withdraw`).expect(200))).toEqual([
      'entry.withdrawn',
      'clearance.changed',
    ]);
    for (const message of receiver.received) {
      // Ids and hashes hold any digits by chance.
      expect(message.body.replaceAll(/[0-9a-f-]{32,}/gu, '')).not.toMatch(
        /zora|quintrell|yorick|vandersloot|example\.org|4930|test (chief|inspector|organizer)|known|leaks/i,
      );
      expect(Buffer.byteLength(message.body)).toBeLessThan(20_000);
      const { data } = JSON.parse(message.body) as Told;
      expect(data).toMatchObject({ eventId: event.eventId, entryId: entry.entryId, carNumber: entry.carNumber });
    }
    const byType = (type: string) => told().find((message) => message.type === type)?.data;
    expect(byType('hold.placed')).toMatchObject({ holdId, validUntil: null });
    expect(byType('concession.granted')).toMatchObject({ concessionId, ruleId: 'pedal-firm' });
    expect(byType('entry.signed-off')).toMatchObject({
      decision: 'accept-with-conditions',
      validUntil: '2026-06-13T10:00:00.000Z',
    });
    expect(byType('inspection.submitted')).toMatchObject({ revision: 1, verdict: 'barred' });
    expect(byType('clearance.changed')).toMatchObject({ previousStatus: 'no-declaration', status: 'barred' });
    // Each is kept under an id of its own, and nothing came twice.
    expect(new Set(receiver.received.map(({ headers }) => headers['webhook-id'])).size).toBe(receiver.received.length);
    expect((await deliveriesOf(t, webhookId)).every(({ state }) => state === 'delivered')).toBe(true);
  });

  test('is told when time does it: a condition past due holds the car', async () => {
    t.clock.set('2026-06-13T08:00:00Z');
    await createHook(t, { url: receiver.url, types: ['condition.fell-due', 'clearance.changed'] });
    t.clock.set('2026-06-11T08:00:00Z');
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    t.clock.set('2026-06-13T08:00:00Z');
    const claimed = await claim(t, event, entry.carNumber);
    const body = {
      decision: 'accept-with-conditions',
      stickerNumber: 'S901',
      conditions: [{ text: 'torque', dueAt: '2026-06-13T10:00:00Z' }],
    };
    const signed = await signOff(t, claimed.body.claimId, body);
    await runDueJobs(t);
    const from = receiver.received.length;
    t.clock.set('2026-06-13T10:00:01Z');
    await conditionDueJob.handle(t.deps, { conditionId: signed.body.conditions[0].id }, JOB_CONTEXT);
    await runDueJobs(t);
    expect(
      told()
        .slice(from)
        .map(({ type, data }) => [type, data['status'], data['previousStatus']]),
    ).toEqual([
      ['condition.fell-due', 'held', undefined],
      ['clearance.changed', 'held', 'clear-with-conditions'],
    ]);
  });

  test('is told only to who asked for it: other types, other events, and what was before', async () => {
    const other = await createTestEvent(t);
    const entry = await createTestEntry(t, event);
    await createHook(t, { url: `${receiver.url}/type`, types: ['hold.lifted'] });
    await createHook(t, { url: `${receiver.url}/event`, types: ['hold.placed'], eventId: other.eventId });
    const place = () =>
      t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak' }).expect(201);
    await place();
    t.clock.advance(1000);
    await createHook(t, { url: `${receiver.url}/late`, types: ['hold.placed'] });
    await runDueJobs(t);
    expect(receiver.received).toHaveLength(0);
    await place();
    await runDueJobs(t);
    expect(receiver.received).toHaveLength(1);
  });

  test('is ordered in the transaction that seals its cause, and not at all where nobody listens', async () => {
    const entry = await createTestEntry(t, event);
    const place = () => t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'leak' });
    const isFanOut = ({ name }: { name: string }) => name === 'webhook.fan-out';
    const unheard = await place();
    await sealed(t);
    expect((await ordered(t, unheard)).filter(isFanOut)).toEqual([]);
    await createHook(t, { url: PUBLIC, types: ['hold.placed'] });
    const placed = await place();
    await sealed(t);
    expect(await ordered(t, placed)).toContainEqual(
      expect.objectContaining({ name: 'webhook.fan-out', payload: { historyId: expect.any(String) } }),
    );
    const [{ n } = { n: -1 }] = await sql<{ n: number }>(
      t,
      `SELECT count(*)::int AS n FROM outbox o JOIN event_leaves l
      ON l.history_id::text = o.payload ->> 'historyId' WHERE o.name = 'webhook.fan-out' AND o.xmin = l.xmin`,
    );
    expect(n).toBe(1);
    const refused = await t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: '' });
    await sealed(t);
    expect((await ordered(t, refused)).filter(isFanOut)).toEqual([]);
  });
});

test('the real queue carries it to the receiver, also while another one never answers', async () => {
  const { log } = logLines('silent');
  const deps = { ...openDeps(t.deps.config, t.databaseUrl, log), clock: t.clock };
  const silent = await startReceiver(() => new Promise(() => undefined));
  const jobs = startJobs(deps, t.databaseUrl);
  try {
    await ping(t, (await createHook(t, { url: silent.url, types: ['hold.placed'] })).webhookId);
    await waitFor('the one that never answers to be asked', () => silent.received.length > 0, 30_000);
    t.clock.set('2026-06-11T08:00:00Z');
    const { webhookId, secret } = await createHook(t, { url: receiver.url, types: ['inspection.submitted'] });
    await ping(t, webhookId);
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    await waitFor('both messages', () => receiver.received.length >= 2, 30_000);
    expect(
      told()
        .map(({ type }) => type)
        .toSorted(),
    ).toEqual(['inspection.submitted', 'webhook.test']);
    for (const message of receiver.received) expect(verify(t, secret, message)).toBeTruthy();
    expect(silent.received).toHaveLength(1);
  } finally {
    silent.close();
    await jobs.stop();
    await deps.db.close();
  }
});
