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
import { wholeForm } from '../support/form.ts';
import { factsOf, historyOf } from '../support/records.ts';

const END = '2026-06-13T12:00:00.000Z';
const LATER = '2026-06-13T15:00:00.000Z';
const OLD_FLUID = { ...GOOD_ANSWERS, 'brake-fluid.flushed-on': '2024-01-01' };
const CONDITION = 'Pedal looked at again after session 2';
const LOOKED = ['brake-fluid.flushed-on', 'brake.pedal', 'radiator.debris', 'pad.thickness'].map((item) => ({
  item,
  result: 'ok',
}));

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const grant = (entryId: string, body: object = {}) =>
  t
    .api('chief')
    .post(`/v1/entries/${entryId}/concessions`)
    .send({ ruleId: 'fluid-age', reason: 'papers follow', expiresAt: END, ...body });
const accept = (claimId: string, body: object = {}) =>
  signOff(t, claimId, { decision: 'accept', stickerNumber: claimId.slice(-12), checks: LOOKED, ...body });

async function accepted(event: TestEvent, entry: TestEntry, body: object = {}) {
  const signed = await accept((await claim(t, event, entry.carNumber)).body.claimId, body);
  expect(signed.status, JSON.stringify(signed.body)).toBe(201);
  return signed.body;
}

describe('the life of a concession', () => {
  // Days counted as minimum equipment lists do (HKAR-MMEL: so many consecutive calendar days, excluding the day of
  // discovery). The event is in Berlin (UTC+2 in June): the days end at 22:00 UTC.
  const categories = {
    short: { maximumDays: 3, meaning: 'to be mended within the week' },
    never: { maximumDays: 0, meaning: 'no exception' },
  };
  const categoryOf: Record<string, string> = { 'fluid-age': 'short', 'pedal-firm': 'never' };
  const rules = SMALL_RULE_SET.rules.map((rule) => {
    const concession = categoryOf[rule.id];
    return concession === undefined ? rule : { ...rule, concession };
  });
  let event: TestEvent;
  beforeAll(async () => {
    event = await createTestEvent(t, { ...SMALL_RULE_SET, rules, concessionCategories: categories });
  });

  test.each([
    // now is 10 June, 10:00 in Berlin: three days after it end with 13 June
    ['fluid-age', TEST_NOW, '2026-06-13T22:00:00.000Z', 201],
    ['fluid-age', TEST_NOW, '2026-06-13T22:00:00.001Z', 422],
    // 22:30 UTC on the 9th is the 10th in Berlin
    ['fluid-age', '2026-06-09T22:30:00Z', '2026-06-13T22:00:00.000Z', 201],
    ['fluid-age', '2026-06-09T21:30:00Z', '2026-06-13T00:00:00.000Z', 422],
    // no category: until the last event day is over
    ['pad-thickness', TEST_NOW, '2026-06-14T22:00:00.000Z', 201],
    ['pad-thickness', TEST_NOW, '2026-06-14T22:00:00.001Z', 422],
  ])('%s, granted at %s until %s: %i', async (ruleId, now, expiresAt, status) => {
    const entry = await createTestEntry(t, event);
    t.clock.set(now);
    const answer = await grant(entry.entryId, { ruleId, expiresAt });
    expect(answer.status, JSON.stringify(answer.body)).toBe(status);
    if (status === 201) {
      expect(answer.body).toMatchObject({ expiresAt, ...(ruleId === 'fluid-age' && { category: 'short' }) });
      return;
    }
    expect(answer.body.code).toBe('not-acceptable');
    const [fault] = answer.body.errors;
    expect(fault).toMatchObject({ pointer: '/expiresAt', code: 'too-long', latestEnd: expect.any(String) });
    // What the refusal names is what may be asked for.
    expect((await grant(entry.entryId, { ruleId, expiresAt: fault.latestEnd })).status).toBe(201);
  });

  test('is nothing in a category of no days, and once the event is over', async () => {
    const entry = await createTestEntry(t, event);
    const none = await grant(entry.entryId, { ruleId: 'pedal-firm' });
    expect(none.body.errors).toMatchObject([{ pointer: '/ruleId', code: 'none-allowed' }]);
    t.clock.set('2026-06-14T22:00:00Z');
    const after = await grant(entry.entryId, { ruleId: 'pad-thickness', expiresAt: '2026-06-15T08:00:00Z' });
    expect(after.body.errors).toMatchObject([{ pointer: '/expiresAt', code: 'too-long' }]);
    expect(await t.deps.db.prisma.concession.count({ where: { entryId: entry.entryId } })).toBe(0);
  });
});

describe('what a concession asks for', () => {
  let event: TestEvent;
  let entry: TestEntry;
  beforeAll(async () => {
    event = await createTestEvent(t);
  });
  const declare = async () => {
    entry = await createTestEntry(t, event);
    await submit(t, entry, OLD_FLUID);
  };

  test('is on the form, the line, the claim; becomes a condition of the acceptance; is at the gate until ticked off', async () => {
    await declare();
    const granted = await grant(entry.entryId, { condition: CONDITION });
    const inForce = {
      concessionId: granted.body.concessionId,
      ruleId: 'fluid-age',
      title: 'Brake fluid age',
      reason: 'papers follow',
      expiresAt: END,
      condition: CONDITION,
    };
    const item = (await wholeForm(t, entry)).items.find(({ key }) => key === 'brake-fluid.flushed-on');
    expect(item?.rules).toMatchObject([{ ruleId: 'fluid-age', concession: inForce }]);
    const line = await t.api('marshal').get(`/v1/events/${event.eventId}/line`);
    const ticket = line.body.tickets.find((one: { entryId: string }) => one.entryId === entry.entryId);
    expect(ticket.concessions).toEqual([inForce]);
    const claimed = await claim(t, event, entry.carNumber);
    expect(claimed.body.concessions).toEqual([inForce]);
    expect(claimed.body.findings).toContainEqual(
      expect.objectContaining({ ruleId: 'fluid-age', conceded: expect.objectContaining({ condition: CONDITION }) }),
    );
    const signed = await accept(claimed.body.claimId);
    expect(signed.body.conditions).toEqual([{ id: expect.any(String), text: CONDITION }]);
    t.clock.set('2026-06-13T08:00:00Z');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      admit: true,
      status: 'clear-with-conditions',
      reason: `Signed off at the tech line, on condition: ${CONDITION}, with a concession for: Brake fluid age until ${END} (${CONDITION}).`,
    });
    const path = `/v1/entries/${entry.entryId}/conditions/${signed.body.conditions[0].id}/done`;
    await t.api('inspector').post(path).send({ note: 'firm' }).expect(200);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({
      status: 'clear',
      entries: [{ conditions: [] }],
    });
  });

  test('is asked once, beside what the inspector asks, and not where the rule is met after all', async () => {
    await declare();
    await grant(entry.entryId, { condition: CONDITION });
    const conditions = [{ text: CONDITION, dueAt: LATER }, { text: 'torque' }];
    const signed = await accepted(event, entry, { decision: 'accept-with-conditions', conditions });
    expect(signed.conditions.map((one: { text: string }) => one.text)).toEqual([CONDITION, 'torque']);

    await declare();
    await grant(entry.entryId, { condition: CONDITION });
    const flushed = [{ item: 'brake-fluid.flushed-on', value: '2026-05-01' }];
    expect((await accepted(event, entry, { checks: flushed })).conditions).toEqual([]);

    await declare();
    await grant(entry.entryId, { condition: CONDITION });
    const { claimId } = (await claim(t, event, entry.carNumber)).body;
    const refused = await signOff(t, claimId, { decision: 'refuse', note: 'no' });
    expect(refused.body.conditions).toEqual([]);
  });

  test('is put on a car that was accepted before, once the new concession is the one that counts', async () => {
    await declare();
    await grant(entry.entryId);
    await accepted(event, entry);
    const { clearance } = (await grant(entry.entryId, { condition: CONDITION, expiresAt: LATER })).body;
    expect(clearance.conditions).toEqual([{ id: expect.any(String), text: CONDITION }]);
    // A shorter one is not the one that counts, and what is open already is not asked twice.
    await grant(entry.entryId, { condition: 'another', expiresAt: END });
    await grant(entry.entryId, { condition: CONDITION, expiresAt: '2026-06-13T16:00:00Z' });
    expect((await factsOf(t, entry.entryId)).conditions).toEqual(clearance.conditions);
    const path = `/v1/entries/${entry.entryId}/conditions/${clearance.conditions[0].id}/done`;
    await t.api('inspector').post(path).send({}).expect(200);
    expect((await factsOf(t, entry.entryId)).conditions).toEqual([]);
  });

  test('with three in force the form, the line and the claim say so', async () => {
    await declare();
    const many = async () => {
      const form = await t.api(entry.entrant).get(`/v1/entries/${entry.entryId}/form`);
      const line = await t.api('marshal').get(`/v1/events/${event.eventId}/line`);
      const ticket = line.body.tickets.find((one: { entryId: string }) => one.entryId === entry.entryId);
      return [form.body.manyConcessions, ticket.manyConcessions];
    };
    for (const ruleId of ['fluid-age', 'fluid-age', 'pedal-firm']) await grant(entry.entryId, { ruleId });
    expect(await many()).toEqual([undefined, undefined]);
    await grant(entry.entryId, { ruleId: 'pad-thickness', expiresAt: LATER });
    expect(await many()).toEqual([true, true]);
    expect((await claim(t, event, entry.carNumber)).body).toMatchObject({
      manyConcessions: true,
      concessions: [{ ruleId: 'pad-thickness' }, { ruleId: 'pedal-firm' }, { ruleId: 'fluid-age' }],
    });
    t.clock.set(END);
    expect(await many()).toEqual([undefined, undefined]);
  });
});

describe('a later version of the rules', () => {
  /** Publishes the small set again with another rule and points the novices at it. */
  async function moveOn(event: TestEvent, change: object = {}): Promise<void> {
    const api = t.api('organizer');
    const rules = SMALL_RULE_SET.rules.map((rule) => (rule.id === 'fluid-age' ? { ...rule, ...change } : rule));
    const document = { ...SMALL_RULE_SET, description: 'Second', rules };
    const path = `/v1/rule-sets/${event.ruleSetId}`;
    await api.put(path).set('if-match', '*').send({ name: 'Test rules', document }).expect(200);
    await api.post(`${path}/publish`).set('if-match', '*').send({ changelog: 'Second' }).expect(201);
    const group = `/v1/events/${event.eventId}/run-groups/${event.novice}`;
    const { preview } = (await api.post(`${group}/preview`).send({ ruleSetVersion: 2 }).expect(200)).body;
    await api.patch(group).set('if-match', '*').send({ ruleSetVersion: 2, preview }).expect(200);
  }
  const statesOf = async (entry: TestEntry) => {
    const { body } = await t.api('chief').get(`/v1/entries/${entry.entryId}/concessions`);
    return body.concessions.map((one: { state: string }) => one.state);
  };

  test('is covered by a concession that says so, and by no other', async () => {
    const event = await createTestEvent(t);
    const [plain, wide] = [await createTestEntry(t, event), await createTestEntry(t, event)];
    await grant(plain.entryId);
    expect((await grant(wide.entryId, { coversLaterVersions: true })).body.coversLaterVersions).toBe(true);
    for (const entry of [plain, wide]) expect((await submit(t, entry, OLD_FLUID)).body.verdict).toBe('to-inspect');
    await moveOn(event);
    // What judged the declaration is what the concession goes by, until the declaration is judged by other rules.
    expect([await statesOf(plain), await statesOf(wide)]).toEqual([['in-force'], ['in-force']]);
    expect((await submit(t, plain, OLD_FLUID)).body).toMatchObject({ ruleSetVersion: 2, verdict: 'barred' });
    expect((await submit(t, wide, OLD_FLUID)).body).toMatchObject({ ruleSetVersion: 2, verdict: 'to-inspect' });
    expect([await statesOf(plain), await statesOf(wide)]).toEqual([['not-covering'], ['in-force']]);
    const line = await t.api('marshal').get(`/v1/events/${event.eventId}/line`);
    expect(line.body.tickets).toMatchObject([{ entryId: wide.entryId, concessions: [{ ruleId: 'fluid-age' }] }]);
    await accepted(event, wide);
    t.clock.set(END);
    expect(await gate(t, event, wide.carNumber)).toMatchObject({ admit: false, status: 'barred' });
  });

  test('in which the rule has become safety-critical is covered only by what two people decided', async () => {
    const event = await createTestEvent(t);
    const entry = await createTestEntry(t, event);
    await grant(entry.entryId, { coversLaterVersions: true });
    await moveOn(event, { safetyCritical: true });
    expect((await submit(t, entry, OLD_FLUID)).body.verdict).toBe('barred');
    expect(await statesOf(entry)).toEqual(['not-covering']);
    const again = await grant(entry.entryId);
    expect(again.body.state).toBe('awaiting-approval');
    await t.api('organizer').post(`/v1/concessions/${again.body.concessionId}/approve`).expect(200);
    expect(await statesOf(entry)).toEqual(['not-covering', 'in-force']);
    await accepted(event, entry);
  });

  test('an approval that comes too late for the version changes nothing', async () => {
    const rules = SMALL_RULE_SET.rules.map((rule) =>
      rule.id === 'fluid-age' ? { ...rule, safetyCritical: true } : rule,
    );
    const event = await createTestEvent(t, { ...SMALL_RULE_SET, rules });
    const entry = await createTestEntry(t, event);
    await submit(t, entry, OLD_FLUID);
    const { concessionId } = (await grant(entry.entryId)).body;
    await moveOn(event, { safetyCritical: true });
    await submit(t, entry, OLD_FLUID);
    const answer = await t.api('organizer').post(`/v1/concessions/${concessionId}/approve`);
    expect(answer.body).toMatchObject({ code: 'state-moved-on', currentState: 'not-covering' });
    expect((await factsOf(t, entry.entryId)).declared?.bars).toEqual([
      { ruleId: 'fluid-age', title: 'Brake fluid age' },
    ]);
    expect((await historyOf(t, entry.entryId)).map((row) => row.action)).not.toContain('concession.approved');
  });
});
