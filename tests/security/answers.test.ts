import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEvent } from '../support/event.ts';
import { createHook } from '../support/webhooks.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const SECRET = 'a-key-that-somebody-put-into-the-query';

describe('whoever shows no valid token', () => {
  test('gets nothing of his query back', async () => {
    for (const url of ['/v1/events', `/v1/events/${event.eventId}/gate/7`]) {
      const answer = await t.api(undefined).get(`${url}?token=${SECRET}`);
      expect(answer.status).toBe(401);
      expect(answer.text).not.toContain(SECRET);
      expect(answer.body.instance).toBe(url);
    }
    const known = await t.api('marshal').get('/v1/events?token=x');
    expect([known.status, known.body.instance]).toEqual([400, '/v1/events?token=x']);
  });

  test('is told so before any fault of the request', async () => {
    const gate = `/v1/events/${event.eventId}/gate`;
    const urls = [`${gate}/${'x'.repeat(41)}`, `${gate}/7?runGroupId=x`, '/v1/events/x/gate/7', `${gate}/7?what=1`];
    for (const url of [
      ...urls,
      `/v1/entries/${'x'.repeat(3000)}/form`,
      `${gate}/${'7'.repeat(3000)}`,
      '/v1/events?limit=x',
    ]) {
      const answer = await t.api(undefined).get(url);
      expect([url.slice(0, 90), answer.status]).toEqual([url.slice(0, 90), 401]);
      const known = await t.api('marshal').get(url);
      expect([url.slice(0, 90), known.status]).toEqual([url.slice(0, 90), 400]);
      expect(known.body.admit).not.toBe(true);
    }
    const entrant = (await createTestEntry(t, event)).entrant;
    expect((await t.api(entrant).get(urls[0] ?? '')).status).toBe(403);
  });
});

test('no answer takes the word of the Host header for this server', async () => {
  const host = 'evil.example';
  const ask = (method: 'GET' | 'POST', url: string, payload?: object) =>
    t.app.inject({ method, url, ...(payload === undefined ? {} : { payload }), headers: { host, authorization } });
  const { token } = await t.mint('organizer');
  const authorization = `Bearer ${token}`;
  const body = { role: 'marshal', holder: 'Gate', eventIds: [event.eventId] };
  const answers = [
    await ask('POST', '/v1/enrolments', body),
    await ask('GET', '/v1/events?limit=1'),
    await ask('GET', '/v1/nothing'),
    await ask('GET', '/v1/events/x'),
    await ask('GET', '/problems'),
    await ask('GET', '/openapi.json'),
    await ask('GET', '/docs/json'),
    await ask('GET', '/'),
    await ask('GET', '/gate'),
  ];
  for (const { statusCode, body: text, headers } of answers) {
    expect(text).not.toContain(host);
    expect(JSON.stringify(headers)).not.toContain(host);
    expect(statusCode).not.toBe(500);
  }
  expect(answers[0]?.json().url).toBe(`/enrol#${answers[0]?.json().code}`);
  expect(answers[2]?.json().type).toBe('/problems/not-found');
});

test.each([
  '/assets/..%2f',
  '/assets/..%2fgate%2findex.html',
  '/assets/%2e%2e%2f%2e%2e%2fpackage.json',
  '/assets/a%00b',
])('%s is not found', async (url) => {
  const answer = await t.app.inject({ url });
  expect([answer.statusCode, answer.json().code]).toEqual([404, 'not-found']);
});

test.each([
  ['{"role":"marshal","__proto__":{"role":"organizer"}}', '/__proto__'],
  ['{"a":[{"__proto__":1}]}', '/a/0/__proto__'],
  ['{"constructor":{"prototype":{"admit":true}}}', '/constructor'],
])('%s is refused for that key', async (payload, pointer) => {
  const answer = await t.api('organizer').post('/v1/tokens').set('content-type', 'application/json').send(payload);
  expect(answer.status).toBe(400);
  expect(answer.body.errors).toEqual([
    { pointer, code: 'forbidden-key', detail: expect.stringContaining('no object may have it'), in: 'body' },
  ]);
});

test('a change of nothing changes no version', async () => {
  const organizer = t.api('organizer');
  const entry = await createTestEntry(t, event);
  const hook = await createHook(t, { url: 'https://hooks.example.org/', types: ['hold.placed'] });
  for (const url of [
    `/v1/events/${event.eventId}`,
    `/v1/events/${event.eventId}/run-groups/${event.novice}`,
    `/v1/entries/${entry.entryId}`,
    `/v1/webhooks/${hook.webhookId}`,
  ]) {
    const etag = (await organizer.get(url).expect(200)).headers['etag'] ?? '';
    const history = await t.deps.db.prisma.history.count();
    const changed = await organizer.patch(url).set('if-match', etag).send({});
    expect([url, changed.status, changed.headers['etag']]).toEqual([url, 200, etag]);
    expect((await organizer.get(url)).headers['etag']).toBe(etag);
    expect(await t.deps.db.prisma.history.count()).toBe(history);
    expect((await organizer.patch(url).set('if-match', '"99"').send({})).status).toBe(412);
  }
});
