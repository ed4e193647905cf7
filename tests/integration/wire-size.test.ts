import { randomUUID } from 'node:crypto';
import type { AddressInfo } from 'node:net';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { changeAnswers, goodAnswers } from '../../seed/answers.ts';
import { BUILT_IN_RULE_SET } from '../../seed/built-in.ts';
import { carOf } from '../../seed/cars.ts';
import type { DraftView, FormView as OwnForm } from '../../src/web/api/operations.ts';
import { findingsAfter, joinForm } from '../../src/web/garage/kept/form.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEntry, type TestEvent } from '../support/event.ts';
import { askOnTheWire } from '../support/wire.ts';

const KB = 1000;
const COUPE = carOf('coupe');
const GOOD = goodAnswers(COUPE, '2026-06-13');

let t: TestApp;
let event: TestEvent;
let base: string;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t, { ...(BUILT_IN_RULE_SET as object), examples: [] });
  base = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
});
afterAll(() => t.close());

const enter = () => createTestEntry(t, event, { vehicle: COUPE });
const as = ({ token }: { token: string }) => ({ authorization: `Bearer ${token}` });
const readForm = ({ entryId, entrant }: TestEntry) =>
  askOnTheWire(`${base}/v1/entries/${entryId}/form`, { headers: as(entrant) });
const readQuestions = ({ entrant }: TestEntry, own: OwnForm) =>
  askOnTheWire(`${base}${own.questions.address}`, { headers: as(entrant) });
const save = ({ entryId, entrant }: TestEntry, rev: number, answers: unknown, query = '') =>
  askOnTheWire(`${base}/v1/entries/${entryId}/declaration${query}`, {
    method: 'PUT',
    headers: { ...as(entrant), 'if-match': `"${rev}"` },
    body: { answers },
  });
const submit = ({ entryId, entrant }: TestEntry, answers: unknown) =>
  askOnTheWire(`${base}/v1/entries/${entryId}/inspections`, {
    method: 'POST',
    headers: { ...as(entrant), 'idempotency-key': randomUUID() },
    body: { answers },
  });

describe('on the wire', () => {
  test('a form is small, and what all cars of the group share is kept for a year', async () => {
    const [entry, other] = [await enter(), await enter()];
    const form = await readForm(entry);
    expect(form.headers).toMatchObject({ 'content-encoding': 'br', 'cache-control': 'no-store' });
    expect(form.bytes).toBeLessThanOrEqual(8 * KB);
    const own: OwnForm = JSON.parse(form.text);
    const shared = await readQuestions(entry, own);
    expect(shared.headers).toMatchObject({
      'content-encoding': 'br',
      'cache-control': 'private, max-age=31536000, immutable',
      vary: 'authorization, accept-encoding',
    });
    expect(shared.bytes).toBeLessThanOrEqual(25 * KB);
    expect(JSON.parse((await readForm(other)).text).questions).toEqual(own.questions);
    // nothing is at an address that names another content, nor for an entrant of another group
    const stale = own.questions.address.replace(/[0-9a-f]{8}$/u, '00000000');
    expect((await askOnTheWire(base + stale, { headers: as(entry.entrant) })).status).toBe(404);
    const advanced = await createTestEntry(t, event, { vehicle: COUPE, runGroupId: event.advanced });
    expect((await readQuestions(advanced, own)).status).toBe(404);
  });

  test('a saved draft says what is otherwise, which brings the findings of the form to what they are', async () => {
    const entry = await enter();
    const own: OwnForm = JSON.parse((await readForm(entry)).text);
    const questions = JSON.parse((await readQuestions(entry, own)).text);
    let form = joinForm(own, questions);
    // a drum axle or an electric car is not what answers say; of these rules some apply only to some answers
    const steps = [
      { 'brake.pedal': 'spongy' },
      { 'brake.pedal': 'firm', 'pad.thickness': GOOD['pad.thickness'] },
      GOOD,
      changeAnswers(GOOD, { 'engine.leaks@engine-oil': 'weep', 'brake.pedal': 'spongy' }, COUPE),
      GOOD,
      {},
    ];
    for (const [rev, answers] of steps.entries()) {
      const saved = await save(entry, rev, answers);
      expect([saved.status, saved.headers['etag']]).toEqual([200, `"${rev + 1}"`]);
      const body: DraftView = JSON.parse(saved.text);
      expect(body.judgedBy).toBe(form.judgedBy);
      form = { ...form, findings: findingsAfter(form, body) };
      const now = joinForm(JSON.parse((await readForm(entry)).text), questions);
      expect(textsOf(form.findings)).toEqual(textsOf(now.findings));
      expect(body.tally).toEqual(now.tally);
    }
    const one = await save(entry, steps.length, { 'brake.pedal': 'firm' });
    expect(one.bytes).toBeLessThanOrEqual(3 * KB);
    expect(JSON.parse(one.text).findings.length).toBeLessThan(10);
    const all = JSON.parse((await save(entry, steps.length + 1, { 'brake.pedal': 'firm' }, '?findings=all')).text);
    expect([all.findings.length, all.gone]).toEqual([all.tally.all, []]);
  });

  test('a submission answers with what counts; all of it is there for who asks', async () => {
    const entry = await enter();
    const typical = await submit(entry, changeAnswers(GOOD, { 'engine.leaks@engine-oil': 'weep' }, COUPE));
    expect(typical.status).toBe(201);
    expect(typical.bytes).toBeLessThanOrEqual(10 * KB);
    const body = JSON.parse(typical.text);
    expect(body.findings.some(({ result }: { result: string }) => result === 'met')).toBe(false);
    expect(body.tally.all).toBe(body.tally.met + body.findings.length);
    const path = `/v1/inspections/${body.inspectionId}`;
    const whole = (await t.api(entry.entrant).get(`${path}?findings=all`).expect(200)).body;
    expect(whole.findings).toHaveLength(body.tally.all);
    expect(whole.findings.filter(({ result }: { result: string }) => result !== 'met')).toEqual(body.findings);
    await t.api(entry.entrant).get(`${path}?findings=some`).expect(400);
  });

  test('120 cars are listed in a few packets', async () => {
    const kinds = ['coupe', 'hatch', 'roadster'] as const;
    const cars = Array.from({ length: 120 }, (_, at) => ({
      carNumber: String(at + 5000),
      runGroupId: event.novice,
      entrant: { name: `Entrant ${at}` },
      vehicle: { ...carOf(kinds[at % kinds.length] ?? 'coupe'), description: `Car number ${at}` },
    }));
    const add = (car: object) => t.api('organizer').post(`/v1/events/${event.eventId}/entries`).send(car).expect(201);
    for (const car of cars) await add(car);
    const organizer = await t.mint('organizer');
    const path = `/v1/events/${event.eventId}/entries?limit=120`;
    const list = await askOnTheWire(base + path, { headers: as(organizer) });
    expect(JSON.parse(list.text).entries).toHaveLength(120);
    expect(list.bytes).toBeLessThanOrEqual(8 * KB);
  });

  test('gzip is spoken too, and who takes nothing packed gets the text', async () => {
    const entry = await enter();
    const url = `${base}/v1/entries/${entry.entryId}/form`;
    const gzip = await askOnTheWire(url, { headers: { ...as(entry.entrant), 'accept-encoding': 'gzip' } });
    expect(gzip.headers).toMatchObject({ 'content-encoding': 'gzip', vary: 'Accept-Language, accept-encoding' });
    const plain = await askOnTheWire(url, { headers: { ...as(entry.entrant), 'accept-encoding': 'identity' } });
    expect(plain.headers).not.toHaveProperty('content-encoding');
    expect(plain.text).toBe(gzip.text);
    expect(plain.bytes).toBeGreaterThan(5 * gzip.bytes);
  });

  test('nothing is packed that is tiny, or carries a secret', async () => {
    const organizer = await t.mint('organizer');
    const tiny = await askOnTheWire(`${base}/healthz`);
    expect(tiny.headers).not.toHaveProperty('content-encoding');
    const hook = await askOnTheWire(`${base}/v1/webhooks`, {
      method: 'POST',
      headers: as(organizer),
      body: { url: `https://hooks.example/${'a'.repeat(1200)}`, types: ['hold.placed'], eventId: event.eventId },
    });
    expect(hook.text).toContain('"secret":"');
    expect(hook.bytes).toBeGreaterThan(1200);
    expect(hook.headers).not.toHaveProperty('content-encoding');
  });
});

interface Found {
  ruleId: string;
  result: string;
  reliability?: unknown;
  fix?: string;
}

/** As texts to be compared; the form has no `fix` of what is only not answered. */
const textsOf = (findings: readonly Found[]): string[] =>
  findings
    .map(({ fix, ...one }) => (one.result === 'unanswerable' && one.reliability === undefined ? one : { ...one, fix }))
    .map((one) => JSON.stringify(Object.entries(one).sort(([a], [b]) => (a < b ? -1 : 1))))
    .sort();
