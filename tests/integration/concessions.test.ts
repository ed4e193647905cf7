import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  signOff,
  SMALL_RULE_SET,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { factsOf, historyOf, ordered } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const END = '2026-06-13T12:00:00.000Z';
const OLD_FLUID = { ...GOOD_ANSWERS, 'brake-fluid.flushed-on': '2024-01-01' };
const OLD_FLUID_LONG_PEDAL = { ...OLD_FLUID, 'brake.pedal': 'long' };

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const grant = (entryId: string, body: object = {}, as: Parameters<TestApp['api']>[0] = 'chief') =>
  t
    .api(as)
    .post(`/v1/entries/${entryId}/concessions`)
    .send({ ruleId: 'fluid-age', reason: 'flushed by the shop, papers follow', expiresAt: END, ...body });
const declared = async (answers: unknown): Promise<TestEntry> => {
  const entry = await createTestEntry(t, event);
  expect((await submit(t, entry, answers)).body.verdict).toBe('barred');
  return entry;
};
const check = { item: 'brake-fluid.flushed-on', result: 'ok' };

describe('a concession', () => {
  test('for the last rule that bars puts the car on the line, and the gate flips back at its end', async () => {
    const entry = await declared(OLD_FLUID);
    const granted = await grant(entry.entryId);
    expect(granted.status).toBe(201);
    expect(granted.body).toMatchObject({
      concessionId: expect.any(String),
      entryId: entry.entryId,
      carNumber: entry.carNumber,
      ruleId: 'fluid-age',
      ruleSetId: event.ruleSetId,
      ruleSetVersion: 1,
      expiresAt: END,
      grantedBy: 'Test chief',
      clearance: { admit: false, status: 'in-line' },
    });
    expect(await t.deps.db.prisma.concession.findUnique({ where: { id: granted.body.concessionId } })).toMatchObject({
      grantedName: 'Test chief',
    });
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'concession.granted',
      data: { event: { type: 'conceded', ruleId: 'fluid-age', until: END } },
    });
    expect((await ordered(t, granted)).map((job) => job.payload)).toEqual([
      { entryId: entry.entryId, kind: 'concession.granted', id: granted.body.concessionId },
    ]);
    const claimed = await claim(t, event, entry.carNumber);
    // What a concession covers still has to be looked at.
    const open = await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: 'C1' });
    expect(open.body).toMatchObject({ code: 'points-not-checked', standing: [{ ruleId: 'fluid-age' }] });
    const signed = await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: 'C1', checks: [check] });
    expect(signed.status, JSON.stringify(signed.body)).toBe(201);
    expect(signed.body.findings.find((one: { ruleId: string }) => one.ruleId === 'fluid-age')).toMatchObject({
      result: 'not-met',
      counts: 'inspect',
      conceded: { expiresAt: END },
    });
    t.clock.set('2026-06-13T11:59:59.999Z');
    const last = await gate(t, event, entry.carNumber);
    expect(last).toMatchObject({ admit: true, status: 'clear', validUntil: END });
    expect(last.reason).toContain('concession for: Brake fluid age');
    t.clock.set(END);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      admit: false,
      status: 'barred',
      reason: 'Barred: Brake fluid age.',
    });
  });

  test('covers exactly its rule', async () => {
    const entry = await declared(OLD_FLUID_LONG_PEDAL);
    expect((await grant(entry.entryId)).body.clearance).toMatchObject({
      status: 'barred',
      reason: 'Barred: Brake pedal.',
    });
    expect(await t.deps.db.prisma.ticket.count({ where: { entryId: entry.entryId } })).toBe(0);
    expect((await grant(entry.entryId, { ruleId: 'pedal-firm' })).body.clearance.status).toBe('in-line');
    expect(await t.deps.db.prisma.ticket.count({ where: { entryId: entry.entryId, state: 'waiting' } })).toBe(1);
  });

  test('does not cover what the inspector measures under another rule', async () => {
    const entry = await declared(OLD_FLUID);
    await grant(entry.entryId);
    const { body } = await claim(t, event, entry.carNumber);
    const thin = { item: 'pad.thickness', position: 'FL.in', value: 3 };
    const answer = await signOff(t, body.claimId, { decision: 'accept', stickerNumber: 'C2', checks: [check, thin] });
    expect(answer.body).toMatchObject({ code: 'bar-stands', standing: [{ ruleId: 'pad-thickness' }] });
  });

  test('covers its rule also at a wheel that was fine until the inspector looked', async () => {
    const pads = { ...GOOD_ANSWERS['pad.thickness'], 'FL.in': 3 };
    const entry = await declared({ ...GOOD_ANSWERS, 'pad.thickness': pads });
    await grant(entry.entryId, { ruleId: 'pad-thickness' });
    const { body } = await claim(t, event, entry.carNumber);
    const bad = { item: 'pad.thickness', position: 'FL', result: 'not-ok' };
    const conditions = [{ text: 'three laps at most' }];
    const answer = await signOff(t, body.claimId, {
      decision: 'accept-with-conditions',
      stickerNumber: 'C4',
      checks: [bad],
      conditions,
    });
    expect(answer.status, JSON.stringify(answer.body)).toBe(201);
    expect((await factsOf(t, entry.entryId)).declared?.bars).toMatchObject([
      { ruleId: 'pad-thickness', concededUntil: END },
    ]);
    t.clock.set(END);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'barred' });
  });

  test('that ended before the line decides no longer helps', async () => {
    const entry = await declared(OLD_FLUID);
    await grant(entry.entryId, { expiresAt: '2026-06-13T06:00:00Z' });
    const { body } = await claim(t, event, entry.carNumber);
    t.clock.set('2026-06-13T06:00:00Z');
    const answer = await signOff(t, body.claimId, { decision: 'accept', stickerNumber: 'C3', checks: [check] });
    expect(answer.body).toMatchObject({ code: 'bar-stands', standing: [{ ruleId: 'fluid-age' }] });
    // A new one, given while the car stands at the line, does.
    expect((await grant(entry.entryId)).status).toBe(201);
    expect((await signOff(t, body.claimId, { decision: 'accept', stickerNumber: 'C3', checks: [check] })).status).toBe(
      201,
    );
  });

  test('given before the declaration counts in it, and is shown on the entry', async () => {
    const entry = await createTestEntry(t, event);
    const granted = await grant(entry.entryId);
    expect(granted.body.clearance.status).toBe('no-declaration');
    const answer = await submit(t, entry, OLD_FLUID);
    expect(answer.body).toMatchObject({ verdict: 'to-inspect', ticket: expect.any(Object) });
    expect((await factsOf(t, entry.entryId)).declared?.bars).toEqual([
      { ruleId: 'fluid-age', title: 'Brake fluid age', concededUntil: END },
    ]);
    const { body } = await t.api('organizer').get(`/v1/entries/${entry.entryId}`);
    expect(body.concessions).toEqual([
      { concessionId: granted.body.concessionId, ruleId: 'fluid-age', reason: granted.body.reason, expiresAt: END },
    ]);
  });

  test('is for one published version: a later one is not covered', async () => {
    const own = await createTestEvent(t);
    const entry = await createTestEntry(t, own);
    await grant(entry.entryId);
    const api = t.api('organizer');
    const draft = await api.get(`/v1/rule-sets/${own.ruleSetId}`);
    const document = { ...SMALL_RULE_SET, name: 'Small test rules, again' };
    const replaced = await api
      .put(`/v1/rule-sets/${own.ruleSetId}`)
      .set('if-match', draft.headers['etag'] ?? '')
      .send({ name: 'Test rules', document })
      .expect(200);
    await api
      .post(`/v1/rule-sets/${own.ruleSetId}/publish`)
      .set('if-match', replaced.headers['etag'] ?? '')
      .send({ changelog: 'Second' })
      .expect(201);
    await api
      .patch(`/v1/events/${own.eventId}/run-groups/${own.novice}`)
      .set('if-match', '*')
      .send({ ruleSetVersion: 2 })
      .expect(200);
    expect((await submit(t, entry, OLD_FLUID)).body).toMatchObject({ ruleSetVersion: 2, verdict: 'barred' });
  });

  test('does not turn a refusal into a place on the line', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const { body } = await claim(t, event, entry.carNumber);
    await signOff(t, body.claimId, { decision: 'refuse', note: 'no' });
    expect((await grant(entry.entryId)).body.clearance.status).toBe('refused');
    expect(await t.deps.db.prisma.ticket.count({ where: { entryId: entry.entryId, state: 'waiting' } })).toBe(0);
  });
});

describe('is refused', () => {
  test('to everybody but the chief, and to a chief with an interest', async () => {
    const entry = await declared(OLD_FLUID);
    for (const role of ['organizer', 'inspector', 'marshal'] as const)
      expect((await grant(entry.entryId, {}, role)).status).toBe(403);
    expect((await grant(entry.entryId, {}, entry.entrant)).status).toBe(403);
    const own = await t.mint('chief', { holder: `ENTRANT of ${entry.carNumber}` });
    expect((await grant(entry.entryId, {}, own)).body.code).toBe('conflict-of-interest');
    expect(await t.deps.db.prisma.concession.count({ where: { entryId: entry.entryId } })).toBe(0);
  });

  test.each([
    ['a rule that the version has not', { ruleId: 'no-such-rule' }, 422, '/ruleId'],
    ['an end that is now', { expiresAt: TEST_NOW }, 422, '/expiresAt'],
    ['an end in the past', { expiresAt: '2026-01-01T00:00:00Z' }, 422, '/expiresAt'],
    ['an end that the database cannot hold', { expiresAt: '9999-12-31T23:59:59-14:00' }, 400, '/expiresAt'],
    ['an end without a zone', { expiresAt: '2026-06-13T12:00:00' }, 400, '/expiresAt'],
    ['no reason', { reason: '' }, 400, '/reason'],
    ['an unknown key', { ruleid: 'x' }, 400, '/ruleid'],
  ])('%s', async (_what, body, status, pointer) => {
    const entry = await declared(OLD_FLUID);
    const answer = await grant(entry.entryId, body);
    expect(answer.status, JSON.stringify(answer.body)).toBe(status);
    expect(answer.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
  });

  test('for an unknown or a withdrawn entry', async () => {
    expect((await grant(UNKNOWN)).status).toBe(404);
    const entry = await declared(OLD_FLUID);
    await t.api('organizer').post(`/v1/entries/${entry.entryId}/withdraw`).expect(200);
    expect((await grant(entry.entryId)).body).toMatchObject({ code: 'state-moved-on', currentState: 'withdrawn' });
  });
});

test('two chiefs at once: both are kept, the car gets one place, and the longer end counts', async () => {
  const entry = await declared(OLD_FLUID);
  const ends = ['2026-06-13T12:00:00.000Z', '2026-06-13T15:00:00.000Z', '2026-06-13T13:00:00.000Z'];
  const answers = await Promise.all(ends.map((expiresAt) => grant(entry.entryId, { expiresAt })));
  expect(answers.map((answer) => answer.status)).toEqual([201, 201, 201]);
  expect(await t.deps.db.prisma.ticket.count({ where: { entryId: entry.entryId } })).toBe(1);
  expect((await factsOf(t, entry.entryId)).declared?.bars).toMatchObject([{ concededUntil: ends[1] }]);
});
