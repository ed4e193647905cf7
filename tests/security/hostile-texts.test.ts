import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEntry, type TestEvent } from '../support/event.ts';
import { HOSTILE_TEXTS, hostileDeclaration } from '../support/hostile-texts.ts';
import { HOSTILE_REQUESTS } from '../support/hostile-requests.ts';
import { ownThreadMs, watchTurns } from '../support/own-thread-time.ts';

/** Of the thread that answers the gate, for one request; what these once took was 3 to 23 s. */
const MOST_OWN_MS = 700;
const MOST_BYTES = 200_000;
/** Of the same thread without a turn for others; 20 ms on a machine of its own, and the test's client is in it here. */
const MOST_TURN_MS = 40;

let t: TestApp;
let event: TestEvent;
let entry: TestEntry;
beforeAll(async () => {
  t = await startTestApp({ threads: { perCaller: 4 } });
  event = await createTestEvent(t);
  entry = await createTestEntry(t, event);
});
afterAll(() => t.close());

const check = (type: string, text: string) =>
  t.api('organizer').post('/v1/rule-set-checks').set('content-type', type).send(text);

describe('the check of a hostile rule set', () => {
  test.each(HOSTILE_TEXTS)('$name: is made in a thread, and its answer is short', async ({ type, make }) => {
    const text = make();
    const before = ownThreadMs();
    const answer = await check(type, text);
    expect(ownThreadMs() - before).toBeLessThan(MOST_OWN_MS);
    expect([200, 400, 422]).toContain(answer.status);
    expect(Buffer.byteLength(answer.text)).toBeLessThan(MOST_BYTES);
    const listed = answer.status === 200 ? answer.body.faults : (answer.body.errors ?? []);
    expect(listed.length).toBeLessThanOrEqual(100);
  });

  test('counts what it does not list', async () => {
    const keys = Array.from({ length: 1000 }, (_, at) => `key${at}: 1`).join('\n');
    const { status, body } = await check('application/yaml', keys);
    expect(status).toBe(200);
    // Four parts are missing: name, parameters, rules, examples.
    expect([body.ok, body.faults.length, body.moreFaults]).toEqual([false, 100, 904]);
    expect(body.faults.at(-1).place.line).toBeGreaterThan(0);
  });

  test('that is kept as a draft is refused before anything is stored', async () => {
    const before = await t.deps.db.prisma.ruleSet.count();
    const answer = await t
      .api('organizer')
      .post('/v1/rule-sets')
      .set('content-type', 'application/yaml')
      .send('"'.repeat(500_000));
    expect([answer.status, answer.body.code]).toEqual([400, 'malformed-yaml']);
    expect(await t.deps.db.prisma.ruleSet.count()).toBe(before);
  });
});

describe('declarations of half a megabyte, eight at once from one entrant', () => {
  test('are refused shortly, the excess as his own, and the gate and others are answered', async () => {
    const save = () =>
      t
        .api(entry.entrant)
        .put(`/v1/entries/${entry.entryId}/declaration`)
        .set('if-match', '*')
        .set('content-type', 'application/json')
        .send(hostileDeclaration());
    const all = Promise.all(Array.from({ length: 8 }, save));
    const gate = await t.api('marshal').get(`/v1/events/${event.eventId}/gate/${entry.carNumber}`);
    expect(gate.status).toBe(200);
    expect((await check('application/yaml', 'a: 1')).status).toBe(200);
    for (const answer of await all) {
      expect([400, 429]).toContain(answer.status);
      expect(['invalid-request', 'too-much-at-once']).toContain(answer.body.code);
      if (answer.status === 429) expect(answer.headers['retry-after']).toBe('2');
      expect(Buffer.byteLength(answer.text)).toBeLessThan(MOST_BYTES);
    }
  });

  test('one below the limits lists a hundred answers and counts the others', async () => {
    const answers = Object.fromEntries(Array.from({ length: 1999 }, (_, at) => [`x${at}${'y'.repeat(70)}`, 1]));
    const answer = await t
      .api(entry.entrant)
      .put(`/v1/entries/${entry.entryId}/declaration`)
      .set('if-match', '*')
      .send({ answers });
    expect([answer.status, answer.body.code]).toEqual([422, 'answers-not-acceptable']);
    expect([answer.body.errors.length, answer.body.moreErrors]).toEqual([100, 1899]);
    expect(answer.body.detail).toContain('and 1996 more');
    expect(Buffer.byteLength(answer.text)).toBeLessThan(MOST_BYTES);
  });
});

test.each(HOSTILE_REQUESTS)('$name: is answered shortly, and others have their turn', async ({ as, make }) => {
  const turns: number[] = [];
  for (let tries = 0; tries < 3; tries += 1) {
    const { method, path, headers = {}, body } = make({ eventId: event.eventId, entryId: entry.entryId });
    const api = t.api(as === 'entrant' ? entry.entrant : as);
    const verb = method.toLowerCase() as 'get' | 'post' | 'put' | 'patch';
    const request = api[verb](path).set(headers);
    const end = watchTurns();
    const answer = await (body === undefined ? request : request.send(body));
    turns.push(end());
    expect([200, 400, 413, 414, 422, 431]).toContain(answer.status);
    expect(Buffer.byteLength(answer.text)).toBeLessThan(MOST_BYTES);
  }
  expect(Math.min(...turns)).toBeLessThan(MOST_TURN_MS);
});

test('a query of junk is refused before it is read', async () => {
  const junk = Array.from({ length: 2000 }, (_, at) => `k${at}=1`).join('&');
  const answer = await t.api('marshal').get(`/v1/events/${event.eventId}/gate?${junk}`);
  expect([answer.status, answer.body.code, answer.body.admit]).toEqual([400, 'invalid-request', false]);
  expect(answer.body.errors).toEqual([
    { pointer: '', code: 'too-long', detail: 'The query is too long.', in: 'query' },
  ]);
  const few = await t.api('marshal').get(`/v1/events/${event.eventId}/gate?${'k=1&'.repeat(10)}`);
  expect([few.status, few.body.errors[0].code]).toEqual([400, 'unknown-key']);
});
