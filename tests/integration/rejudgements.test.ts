import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { rejudgeJob } from '../../src/features/rules/trials/rejudge.job.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { runOrdered } from '../support/jobs.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  gate,
  signOff,
  SMALL_RULE_SET,
  submit,
  type TestEvent,
} from '../support/event.ts';
import { actionsOf, factsOf } from '../support/records.ts';

let t: TestApp;
let event: TestEvent;
let group: string;
let bulletins = 1;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));
beforeEach(async () => {
  event = await createTestEvent(t);
  group = `/v1/events/${event.eventId}/run-groups/${event.novice}`;
});

/** Publishes a version with another pad rule and points the group at it. */
async function moveTo(rule: object, parameters = { padMinimum: { value: 9, unit: 'mm' } }): Promise<string> {
  const api = t.api('organizer');
  const rules = SMALL_RULE_SET.rules.map((one) => (one.id === 'pad-thickness' ? { ...one, ...rule } : one));
  // an unchanged draft cannot be published again
  const document = { ...SMALL_RULE_SET, description: `Bulletin ${(bulletins += 1)}`, rules };
  const path = `/v1/rule-sets/${event.ruleSetId}`;
  await api.put(path).set('if-match', '*').send({ name: 'Test rules', document }).expect(200);
  const { body } = await api.post(`${path}/publish`).set('if-match', '*').send({ changelog: 'Bulletin 2' }).expect(201);
  const change = { ruleSetVersion: body.version, parameters };
  const preview = await api.post(`${group}/preview`).send(change).expect(200);
  const moved = await api
    .patch(group)
    .set('if-match', '*')
    .send({ ...change, preview: preview.body.preview })
    .expect(200);
  return moved.body.rulesHash;
}

async function rejudge(rulesHash: string) {
  const asked = await t.api('organizer').post(`${group}/rejudgements`).send({ rulesHash, reason: 'Bulletin 2' });
  expect(asked.status).toBe(202);
  await runOrdered(t, asked, rejudgeJob);
  const { body } = await t
    .api('marshal')
    .get(asked.headers['location'] ?? '')
    .expect(200);
  return body;
}

describe('moving a run group and judging anew', () => {
  test('changes nobody until it is told to', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    await moveTo({});
    expect((await factsOf(t, entry.entryId)).declared).toMatchObject({ revision: 1, verdict: 'clean' });
    expect((await gate(t, event, entry.carNumber)).status).toBe('in-line');
  });

  test('bars a car on the line under the stricter rule, and says so in its history', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const done = await rejudge(await moveTo({}));
    expect(done).toMatchObject({ state: 'done', done: 1, total: 1 });
    expect(done.entries).toEqual([
      expect.objectContaining({ carNumber: entry.carNumber, outcome: 'judged-anew', before: 'clean', after: 'barred' }),
    ]);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'barred' });
    expect((await claim(t, event, entry.carNumber)).status).toBe(409);
    expect(await actionsOf(t, entry.entryId)).toContain('inspection.rejudged');
    const revisions = await t.api('marshal').get(`/v1/entries/${entry.entryId}/inspections`);
    expect(revisions.body.inspections.map((one: { cause: string }) => one.cause)).toEqual(['rejudged', 'submitted']);
  });

  test('keeps the place on the line of a car that may stay', async () => {
    const first = await createTestEntry(t, event);
    const second = await createTestEntry(t, event);
    await submit(t, first);
    await submit(t, second);
    await rejudge(await moveTo({}, { padMinimum: { value: 5, unit: 'mm' } }));
    const line = await t.api('inspector').get(`/v1/events/${event.eventId}/line`);
    const numbers = line.body.tickets.map((ticket: { carNumber: string }) => ticket.carNumber);
    expect(numbers).toEqual([first.carNumber, second.carNumber]);
  });

  test('leaves a signed car alone when the rule does not recall', async () => {
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    t.clock.set('2026-06-13T06:00:00Z');
    const done = await rejudge(await moveTo({}));
    expect(done.entries).toEqual([expect.objectContaining({ outcome: 'signed-off' })]);
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: true, status: 'clear' });
  });

  test('sends a signed car back to the line when the rule recalls, and the line decides with what it measures', async () => {
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    const done = await rejudge(await moveTo({ recall: true }));
    expect(done.entries).toEqual([expect.objectContaining({ outcome: 'recalled' })]);
    const answer = await gate(t, event, entry.carNumber);
    expect(answer).toMatchObject({ admit: false, status: 'in-line' });
    expect(answer.reason).toContain('recalled: Brake pad friction material (Bulletin 2)');
    expect(await actionsOf(t, entry.entryId)).toContain('entry.recalled');
    const claimed = await claim(t, event, entry.carNumber);
    expect(claimed.status).toBe(201);
    const refused = await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: 'R1' });
    expect(refused.body.code).toBe('bar-stands');
    const positions = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];
    const checks = positions.map((position) => ({ item: 'pad.thickness', position, value: 9.5 }));
    const signed = await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: 'R1', checks });
    expect(signed.status).toBe(201);
  });

  test('takes the clearance of every entry of a shared car until the line has looked at the car again', async () => {
    const novice = await createTestEntry(t, event);
    const { carNumber } = novice;
    const advanced = await createTestEntry(t, event, { carNumber, runGroupId: event.advanced, vehicle: undefined });
    await accept(t, event, novice, { stickerNumber: 'N1' });
    await accept(t, event, advanced, { stickerNumber: 'A1' });
    t.clock.set('2026-06-13T06:00:00Z');
    const inGroup = (runGroupId: string) => gate(t, event, carNumber, `?runGroupId=${runGroupId}`);
    const atGates = async () => [await inGroup(event.novice), await inGroup(event.advanced)];
    const forGroup = (runGroupId: string) =>
      t.api('inspector').post(`/v1/events/${event.eventId}/line/claims`).send({ carNumber, runGroupId });
    expect((await atGates()).map(({ admit }) => admit)).toEqual([true, true]);

    const done = await rejudge(await moveTo({ recall: true }));
    expect(done.entries).toEqual([expect.objectContaining({ entryId: novice.entryId, outcome: 'recalled' })]);
    const [own, other] = await atGates();
    const why = 'recalled: Brake pad friction material (Bulletin 2)';
    expect(own).toMatchObject({ admit: false, status: 'in-line', reason: expect.stringContaining(why) });
    expect(other).toMatchObject({ admit: false, status: 'in-line', reason: expect.stringContaining(why) });
    expect(other?.reason).toContain('in Novice');
    expect((await gate(t, event, carNumber)).admit).toBe(false);
    const list = await t.api('marshal').get(`/v1/events/${event.eventId}/gate`).expect(200);
    expect(list.body.entries.map((row: { admit: boolean }) => row.admit)).toEqual([false, false]);

    // One of them waits on the line by itself; whoever asks for the other is told the way there.
    const line = await t.api('inspector').get(`/v1/events/${event.eventId}/line`).expect(200);
    expect(line.body.tickets.map((ticket: { entryId: string }) => ticket.entryId)).toEqual([novice.entryId]);
    const refused = await forGroup(event.advanced).expect(409);
    expect(refused.body.wayOut.operation).toBe(`POST /v1/entries/${advanced.entryId}/back-to-line`);
    await t.api('inspector').post(`/v1/entries/${advanced.entryId}/back-to-line`).send({ reason: why }).expect(200);

    const positions = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];
    const checks = positions.map((position) => ({ item: 'pad.thickness', position, value: 9.5 }));
    const first = await forGroup(event.novice).expect(201);
    const signed = await signOff(t, first.body.claimId, { decision: 'accept', stickerNumber: 'N2', checks });
    expect(signed.status).toBe(201);
    // Sent back, it has no acceptance of its own any more.
    expect((await atGates()).map(({ admit }) => admit)).toEqual([true, false]);
    const second = await forGroup(event.advanced).expect(201);
    const again = await signOff(t, second.body.claimId, { decision: 'accept', stickerNumber: 'A2' });
    expect(again.status).toBe(201);
    expect((await atGates()).map(({ admit }) => admit)).toEqual([true, true]);
  });

  test('leaves a signed car alone when what was measured at the line meets the recalling rule', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const claimed = await claim(t, event, entry.carNumber);
    const positions = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];
    const checks = positions.map((position) => ({ item: 'pad.thickness', position, value: 11 }));
    await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: 'M1', checks });
    const done = await rejudge(await moveTo({ recall: true }));
    expect(done.entries).toEqual([expect.objectContaining({ outcome: 'signed-off' })]);
  });

  test('does nothing twice when the job runs twice', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const rulesHash = await moveTo({});
    const asked = await t.api('organizer').post(`${group}/rejudgements`).send({ rulesHash, reason: 'Bulletin 2' });
    await runOrdered(t, asked, rejudgeJob);
    await runOrdered(t, asked, rejudgeJob);
    const actions = await actionsOf(t, entry.entryId);
    expect(actions.filter((action) => action === 'inspection.rejudged')).toHaveLength(1);
    expect((await factsOf(t, entry.entryId)).declared?.revision).toBe(2);
  });

  test('is refused for rules that the group does not have', async () => {
    const asked = await t
      .api('organizer')
      .post(`${group}/rejudgements`)
      .send({ rulesHash: 'not-these', reason: 'Bulletin 2' });
    expect(asked.status).toBe(409);
    expect(asked.body.code).toBe('state-moved-on');
  });

  test('stops and says so when the group gets other rules while it waits', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const rulesHash = await moveTo({});
    const asked = await t.api('organizer').post(`${group}/rejudgements`).send({ rulesHash, reason: 'Bulletin 2' });
    await moveTo({}, { padMinimum: { value: 10, unit: 'mm' } });
    await runOrdered(t, asked, rejudgeJob);
    const { body } = await t.api('marshal').get(asked.headers['location'] ?? '');
    expect(body).toMatchObject({ state: 'failed', error: expect.stringContaining('other rules') });
    expect((await factsOf(t, entry.entryId)).declared?.revision).toBe(1);
  });
});
