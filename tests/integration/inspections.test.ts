import { randomUUID } from 'node:crypto';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { findItem, itemApplies } from '../../src/domain/catalogue/catalogue.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { wholeForm } from '../support/form.ts';
import { actionsOf, factsOf, historyOf, ordered, sql } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const form = (entry: TestEntry) => t.api(entry.entrant).get(`/v1/entries/${entry.entryId}/form`);
const save = (entry: TestEntry, answers: unknown, ifMatch?: string) => {
  const request = t.api(entry.entrant).put(`/v1/entries/${entry.entryId}/declaration`);
  return (ifMatch === undefined ? request : request.set('if-match', ifMatch)).send({ answers });
};
const submitDraft = (entry: TestEntry, body?: object) => {
  const request = t
    .api(entry.entrant)
    .post(`/v1/entries/${entry.entryId}/inspections`)
    .set('idempotency-key', randomUUID());
  return body === undefined ? request : request.send(body);
};
const revisions = (entry: TestEntry) => t.deps.db.prisma.inspection.count({ where: { entryId: entry.entryId } });
const item = (body: { items: { key: string }[] }, key: string) => body.items.find((one) => one.key === key);
const THIN = { ...GOOD_ANSWERS, 'pad.thickness': { ...GOOD_ANSWERS['pad.thickness'], 'RR.out': 3.9 } };

describe('the form', () => {
  test('shows the limits of the run group, nothing saved, everything missing', async () => {
    const entry = await createTestEntry(t, event);
    const answer = await form(entry);
    expect(answer.status).toBe(200);
    expect(answer.headers['etag']).toBe('"0"');
    expect(answer.body).toMatchObject({
      entryId: entry.entryId,
      carNumber: entry.carNumber,
      runGroup: 'Novice',
      draftRev: 0,
      window: { opensAt: '2026-06-01T06:00:00.000Z', closesAt: '2026-06-12T18:00:00.000Z', open: true },
    });
    const pads = (await wholeForm(t, entry)).items.find(({ key }) => key === 'pad.thickness');
    expect(pads).toMatchObject({
      answeredBy: 'both',
      answer: { kind: 'number', unit: 'mm' },
      rules: expect.any(Array),
    });
    expect(pads).not.toHaveProperty('saved');
    const rules = pads?.rules ?? [];
    expect(rules.length).toBeGreaterThan(0);
    expect(
      rules.every((rule) => rule.ruleId === 'pad-thickness' && rule.effect === 'bar' && rule.limit === '≥ 4 mm'),
    ).toBe(true);
    expect(pads?.missing).toContain('pad.thickness@FL.in');
    expect(answer.body.caution).toContain('never guarantees a safe car');
  });

  test('shows the limits of another run group to its cars', async () => {
    const entry = await createTestEntry(t, event, { runGroupId: event.advanced });
    expect((await form(entry)).text).toContain('≥ 6 mm');
  });

  test('asks only what applies to this car', async () => {
    const battery = await createTestEntry(t, event, { vehicle: { description: 'Battery car', powertrain: 'battery' } });
    const petrol = await createTestEntry(t, event);
    const keysOf = async (entry: TestEntry) =>
      (await form(entry)).body.items.map((one: { key: string }) => one.key) as string[];
    const [batteryKeys, petrolKeys] = [await keysOf(battery), await keysOf(petrol)];
    for (const key of [...batteryKeys, ...petrolKeys]) expect(findItem(key), key).toBeDefined();
    expect(petrolKeys.filter((key) => key.startsWith('oil.')).length).toBeGreaterThan(0);
    expect(batteryKeys.filter((key) => key.startsWith('oil.'))).toEqual([]);
    const car = { description: 'Battery car', powertrain: 'battery' } as const;
    for (const key of batteryKeys) expect(itemApplies(findItem(key) as never, car), key).toBe(true);
  });

  test('shows what is saved and what is still missing', async () => {
    const entry = await createTestEntry(t, event);
    await save(entry, { 'brake.pedal': 'firm', 'pad.thickness': { 'FL.in': 7 } }, '"0"');
    const { body, headers } = await form(entry);
    expect(headers['etag']).toBe('"1"');
    expect(item(body, 'brake.pedal')).toMatchObject({ saved: 'firm', missing: [] });
    expect(item(body, 'pad.thickness')).toMatchObject({ saved: { 'FL.in': 7 } });
    const { missing } = item(body, 'pad.thickness') as unknown as { missing: string[] };
    expect(missing).toHaveLength(7);
    expect(missing).not.toContain('pad.thickness@FL.in');
  });
});

describe('the draft', () => {
  test('is saved from version 0 up, each with what the rules say so far', async () => {
    const entry = await createTestEntry(t, event);
    const first = await save(entry, { 'brake.pedal': 'spongy' }, '"0"');
    expect(first.status).toBe(200);
    expect(first.headers['etag']).toBe('"1"');
    expect(first.body).toMatchObject({ draftRev: 1, verdict: 'barred' });
    const pedal = first.body.findings.find((one: { ruleId: string }) => one.ruleId === 'pedal-firm');
    expect(pedal).toMatchObject({
      result: 'not-met',
      counts: 'bar',
      message: 'The pedal is not firm.',
      fix: 'Find the cause, bleed the brakes.',
    });
    // only what is otherwise than of the draft before: nothing was answered there, and the fluid is still not
    expect(first.body.findings.map((one: { ruleId: string }) => one.ruleId)).toEqual(['pedal-firm']);
    expect(first.body.missing).toContainEqual({ key: 'brake-fluid.flushed-on' });
    const second = await save(entry, GOOD_ANSWERS, '"1"');
    expect(second.body).toMatchObject({ draftRev: 2, verdict: 'clean' });
    // A draft decides nothing: no history, no ticket, no message.
    expect(await actionsOf(t, entry.entryId)).toEqual(['entry.created']);
    expect(await ordered(t, second)).toEqual([]);
    expect((await factsOf(t, entry.entryId)).declared).toBeUndefined();
  });

  test('lists answers that do not apply to the car and keeps them', async () => {
    const entry = await createTestEntry(t, event, { vehicle: { description: 'Battery car', powertrain: 'battery' } });
    const { body } = await save(entry, { 'oil.grade': '5W-40' }, '"0"');
    expect(body.notApplicable).toEqual(['oil.grade']);
    const row = await t.deps.db.prisma.draft.findUniqueOrThrow({ where: { entryId: entry.entryId } });
    expect(row.answers).toEqual({ 'oil.grade': '5W-40' });
  });

  test('needs If-Match: 428 without, 412 with an old one, and nothing is lost', async () => {
    const entry = await createTestEntry(t, event);
    const without = await save(entry, GOOD_ANSWERS);
    expect(without.status).toBe(428);
    expect(without.headers['etag']).toBe('"0"');
    expect((await save(entry, GOOD_ANSWERS, '"0"')).status).toBe(200);
    const stale = await save(entry, {}, '"0"');
    expect(stale.status).toBe(412);
    expect(stale.headers['etag']).toBe('"1"');
    expect(item((await form(entry)).body, 'brake.pedal')).toMatchObject({ saved: 'firm' });
  });

  test('after a submission says the same, whether or not this process judged what was before', async () => {
    const [typed, other] = [await createTestEntry(t, event), await createTestEntry(t, event)];
    await save(typed, THIN, '"0"');
    for (const entry of [typed, other])
      await submitDraft(entry, { answers: { ...GOOD_ANSWERS, 'brake.pedal': 'long' } });
    const [warm, cold] = [await save(typed, THIN, '"2"'), await save(other, THIN, '"1"')];
    expect(warm.status).toBe(200);
    expect(warm.body.findings.length).toBeGreaterThan(1);
    const { entryId: _, draftRev, ...told } = cold.body;
    expect(warm.body).toEqual({ ...told, entryId: typed.entryId, draftRev: draftRev + 1 });
  });

  test('of 20 first saves at once exactly one wins, and of 20 second ones', async () => {
    const entry = await createTestEntry(t, event);
    for (const tag of ['"0"', '"1"']) {
      const answers = await Promise.all(Array.from({ length: 20 }, () => save(entry, GOOD_ANSWERS, tag)));
      expect(answers.filter((answer) => answer.status === 200)).toHaveLength(1);
      expect(answers.filter((answer) => answer.status === 412)).toHaveLength(19);
    }
  });

  test('is refused with every fault at its place, and the draft before it stays', async () => {
    const entry = await createTestEntry(t, event);
    await save(entry, GOOD_ANSWERS, '"0"');
    const bad = {
      'pad.thickness': { 'FL.in': 'thick', 'XX.in': 5, 'FR.in': { value: 5, unit: 'N·m' }, 'FR.out': 4000 },
      'brake.pedal': 'soft',
      'brake-fluid.flushed-on': '2026-02-30',
      'no.such~item': 1,
    };
    const answer = await save(entry, bad, '"1"');
    expect(answer.status).toBe(422);
    expect(answer.body.code).toBe('answers-not-acceptable');
    const pointers = answer.body.errors.map((fault: { pointer: string }) => fault.pointer).sort();
    expect(pointers).toEqual(
      [
        '/answers/brake-fluid.flushed-on',
        '/answers/brake.pedal',
        '/answers/no.such~0item',
        '/answers/pad.thickness/FL.in',
        '/answers/pad.thickness/FR.in/unit',
        '/answers/pad.thickness/FR.out',
        '/answers/pad.thickness/XX.in',
      ].sort(),
    );
    for (const fault of answer.body.errors)
      expect(fault).toMatchObject({ code: expect.any(String), detail: expect.any(String), in: 'body' });
    expect((await form(entry)).headers['etag']).toBe('"1"');
    expect(
      (await submitDraft(entry, { answers: bad })).body.errors
        .map((fault: { pointer: string }) => fault.pointer)
        .sort(),
    ).toEqual(pointers);
    expect(await revisions(entry)).toBe(0);
  });

  test('names of things that every object has are items that nobody knows', async () => {
    const entry = await createTestEntry(t, event);
    const answer = await save(entry, { constructor: 1, toString: 2, 'pad.thickness': { valueOf: 5 } }, '"0"');
    expect(answer.status).toBe(422);
    const pointers = answer.body.errors.map((fault: { pointer: string }) => fault.pointer).sort();
    expect(pointers).toEqual(['/answers/constructor', '/answers/pad.thickness/valueOf', '/answers/toString']);
  });

  test('an inch input is judged as the millimetres it is', async () => {
    const entry = await createTestEntry(t, event);
    // 1 in = 25.4 mm exactly (NIST SP 811, appendix B): 5/32 in = 3.96875 mm, which reads 4.0 at one decimal.
    const inches = { ...GOOD_ANSWERS['pad.thickness'], 'FL.in': { value: 5, unit: '1/32in' } };
    const { body } = await save(entry, { ...GOOD_ANSWERS, 'pad.thickness': inches }, '"0"');
    const finding = body.findings.find((one: { position?: string }) => one.position === 'FL.in');
    expect(finding).toMatchObject({ result: 'met', measured: { value: 4, unit: 'mm' }, margin: { value: 0 } });
  });
});

describe('submitting', () => {
  test('the draft or given answers: revision, ticket, clearance, history, message, in one', async () => {
    const entry = await createTestEntry(t, event);
    await save(entry, GOOD_ANSWERS, '"0"');
    const answer = await submitDraft(entry);
    expect(answer.status).toBe(201);
    expect(answer.headers['location']).toBe(`/v1/inspections/${answer.body.inspectionId}`);
    expect(answer.body).toMatchObject({
      entryId: entry.entryId,
      revision: 1,
      ruleSetId: event.ruleSetId,
      ruleSetVersion: 1,
      parameters: { padMinimum: { value: 4, unit: 'mm' } },
      verdict: 'clean',
      answers: GOOD_ANSWERS,
      ticket: { ticketId: expect.any(String), place: expect.any(Number) },
      submittedAt: TEST_NOW,
    });
    const row = await t.deps.db.prisma.inspection.findUniqueOrThrow({ where: { id: answer.body.inspectionId } });
    expect(row).toMatchObject({ revision: 1, verdict: 'clean', submittedBy: entry.entrant.tokenId });
    expect(row.context).toMatchObject({ event: { startsOn: '2026-06-13', endsOn: '2026-06-14' } });
    const ticket = await t.deps.db.prisma.ticket.findUniqueOrThrow({ where: { id: answer.body.ticket.ticketId } });
    expect(ticket).toMatchObject({ state: 'waiting', inspectionId: row.id, entryId: entry.entryId });
    expect((await factsOf(t, entry.entryId)).declared).toEqual({
      inspectionId: row.id,
      revision: 1,
      verdict: 'clean',
      bars: [],
    });
    const last = (await historyOf(t, entry.entryId)).at(-1);
    expect(last).toMatchObject({
      action: 'inspection.submitted',
      actorId: entry.entrant.tokenId,
      actorRole: 'entrant',
    });
    expect(await ordered(t, answer)).toEqual([
      { name: 'inspection.notify', payload: { inspectionId: row.id }, runAt: undefined },
    ]);
    const read = await t.api('inspector').get(answer.headers['location'] ?? '');
    expect(read.body).toEqual(answer.body);
  });

  test('given answers become the draft, so that the next correction starts from them', async () => {
    const entry = await createTestEntry(t, event);
    await save(entry, { 'brake.pedal': 'long' }, '"0"');
    await submit(t, entry, GOOD_ANSWERS);
    const { body, headers } = await form(entry);
    expect(headers['etag']).toBe('"2"');
    expect(item(body, 'brake.pedal')).toMatchObject({ saved: 'firm' });
  });

  test('a barred car is stored and answered with its findings, and gets no ticket', async () => {
    const entry = await createTestEntry(t, event);
    const answer = await submit(t, entry, THIN);
    expect(answer.body).toMatchObject({ verdict: 'barred', ticket: null });
    expect(await t.deps.db.prisma.ticket.count({ where: { entryId: entry.entryId } })).toBe(0);
    expect((await factsOf(t, entry.entryId)).declared?.bars).toEqual([
      { ruleId: 'pad-thickness', title: 'Brake pad friction material' },
    ]);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      status: 'barred',
      reason: 'Barred: Brake pad friction material.',
    });
  });

  test('a second revision that is barred takes the car off the line', async () => {
    const entry = await createTestEntry(t, event);
    const first = await submit(t, entry);
    const second = await submit(t, entry, THIN);
    expect(second.body).toMatchObject({ revision: 2, ticket: null });
    const ticket = await t.deps.db.prisma.ticket.findUniqueOrThrow({ where: { id: first.body.ticket.ticketId } });
    expect(ticket.state).toBe('void');
    const list = await t.api(entry.entrant).get(`/v1/entries/${entry.entryId}/inspections`);
    expect(list.body.inspections.map((one: { revision: number }) => one.revision)).toEqual([2, 1]);
  });

  test('without a draft and without answers there is nothing to submit', async () => {
    const entry = await createTestEntry(t, event);
    const answer = await submitDraft(entry);
    expect(answer.status).toBe(422);
    expect(answer.body.errors).toEqual([expect.objectContaining({ pointer: '/answers', code: 'missing' })]);
  });

  test('a new revision after a sign-off voids it', async () => {
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    t.clock.set('2026-06-12T17:00:00Z');
    expect((await factsOf(t, entry.entryId)).signOff).toMatchObject({ decision: 'accept' });
    const again = await submit(t, entry);
    expect(again.body).toMatchObject({ revision: 2, ticket: { place: expect.any(Number) } });
    t.clock.set('2026-06-13T08:00:00Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'in-line' });
  });

  test('is for the entrant of this entry', async () => {
    const entry = await createTestEntry(t, event);
    const other = await createTestEntry(t, event);
    const url = `/v1/entries/${entry.entryId}/inspections`;
    const as = (who: Parameters<TestApp['api']>[0]) =>
      t.api(who).post(url).set('idempotency-key', 'k').send({ answers: GOOD_ANSWERS });
    expect((await as(other.entrant)).status).toBe(404);
    expect((await as('marshal')).status).toBe(403);
    // Who types it for the entrant says who of the entry said it.
    for (const role of ['organizer', 'chief', 'inspector'] as const) expect((await as(role)).status).toBe(422);
    expect(await revisions(entry)).toBe(0);
    const submitted = await submit(t, entry);
    expect((await t.api(other.entrant).get(`/v1/inspections/${submitted.body.inspectionId}`)).status).toBe(404);
  });

  test('a withdrawn entry takes no declaration', async () => {
    const entry = await createTestEntry(t, event);
    await t.api(entry.entrant).post(`/v1/entries/${entry.entryId}/withdraw`).expect(200);
    const answer = await submit(t, entry);
    expect(answer.status).toBe(409);
    expect(answer.body).toMatchObject({ code: 'state-moved-on', currentState: 'withdrawn' });
  });
});

describe('the declaration window', () => {
  test.each([
    ['2026-06-01T05:59:59.999Z', 409],
    ['2026-06-01T06:00:00.000Z', 201],
    ['2026-06-12T17:59:59.999Z', 201],
    ['2026-06-12T18:00:00.000Z', 409],
  ])('at %s answers %i', async (instant, status) => {
    const entry = await createTestEntry(t, event);
    t.clock.set(instant);
    const answer = await submit(t, entry);
    expect(answer.status).toBe(status);
    expect((await form(entry)).body.window.open).toBe(status === 201);
    expect(await revisions(entry)).toBe(status === 201 ? 1 : 0);
    if (status === 409) {
      expect(answer.body).toMatchObject({
        code: 'declarations-closed',
        opensAt: '2026-06-01T06:00:00.000Z',
        closesAt: '2026-06-12T18:00:00.000Z',
      });
      // A draft may be saved at any time.
      expect((await save(entry, GOOD_ANSWERS, '"0"')).status).toBe(200);
    }
  });
});

describe('a submitted revision', () => {
  test('cannot be changed or deleted, not even in the database', async () => {
    const entry = await createTestEntry(t, event);
    const { body } = await submit(t, entry);
    const id = [body.inspectionId];
    await expect(sql(t, `UPDATE inspections SET verdict = 'clean' WHERE id = $1`, id)).rejects.toThrow(/append-only/);
    await expect(sql(t, 'DELETE FROM inspections WHERE id = $1', id)).rejects.toThrow(/append-only/);
  });

  test('keeps the car, the parameters and the days that judged it, whatever changes later', async () => {
    const entry = await createTestEntry(t, event);
    const { body } = await submit(t, entry);
    const { headers } = await t.api('organizer').get(`/v1/entries/${entry.entryId}`);
    await t
      .api('organizer')
      .patch(`/v1/entries/${entry.entryId}`)
      .set('if-match', headers['etag'] ?? '')
      .send({ runGroupId: event.advanced })
      .expect(200);
    const read = await t.api('organizer').get(`/v1/inspections/${body.inspectionId}`);
    expect(read.body).toEqual({ ...body, ticket: null });
  });
});
