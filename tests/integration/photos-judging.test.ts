import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { rejudgeJob } from '../../src/features/rules/trials/rejudge.job.ts';
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
import { runOrdered } from '../support/jobs.ts';
import { makePhoto, sendPhoto } from '../support/photos.ts';
import { historyOf } from '../support/records.ts';

const RULES = {
  ...SMALL_RULE_SET,
  parameters: {},
  rules: [
    {
      id: 'pad-photos',
      title: 'Photos of the pads',
      items: ['pad.thickness'],
      test: { kind: 'photo', item: 'pad.thickness', atLeast: 2 },
      effect: 'bar',
      message: 'Two photos of the pads are needed.',
      fix: 'Take them with the wheels off.',
      basis: { kind: 'common-practice' },
    },
    {
      id: 'pedal-photo',
      title: 'Photo of the pedal box',
      items: ['brake.pedal'],
      test: { kind: 'photo', item: 'brake.pedal', atLeast: 1 },
      effect: 'inspect',
      message: 'A photo of the pedal box is missing.',
      fix: 'Take one.',
      basis: { kind: 'common-practice' },
    },
  ],
};

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t, RULES);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

type Finding = { ruleId: string; result: string; counts: string; measured?: { value: number } };
const findingOf = (body: { findings: Finding[] }, ruleId = 'pad-photos') =>
  body.findings.find((finding) => finding.ruleId === ruleId);

async function send(entry: TestEntry, seed: number, options: Parameters<typeof sendPhoto>[4] = {}, as = entry.entrant) {
  const answer = await sendPhoto(t, as, entry.entryId, await makePhoto({ seed }), options);
  expect(answer.status, answer.text).toBe(201);
  return answer.body.photoId as string;
}

async function judgedAgain(inspectionId: string, ruleId = 'pad-photos') {
  const { body, text } = await t.api('marshal').get(`/v1/inspections/${inspectionId}/findings/${ruleId}`);
  expect(body.judgedAgain, text).toBeDefined();
  return { declaration: body.judgedAgain, line: body.atLine?.judgedAgain };
}

describe('a rule that asks for photos', () => {
  test('counts different pictures of its item, in form, draft and submission', async () => {
    const entry = await createTestEntry(t, event);
    const saved = async () =>
      t
        .api(entry.entrant)
        .put(`/v1/entries/${entry.entryId}/declaration?findings=all`)
        .set('if-match', '*')
        .send({ answers: GOOD_ANSWERS });
    expect(findingOf((await saved()).body)).toMatchObject({
      result: 'not-met',
      counts: 'bar',
      measured: { value: 0 },
    });
    // One picture at two places of the item is one picture.
    await send(entry, 1, { position: 'FL' });
    await send(entry, 1, { position: 'FR' });
    await send(entry, 2, { item: 'brake.pedal' });
    expect(findingOf((await saved()).body)).toMatchObject({ result: 'not-met', measured: { value: 1 } });
    const barred = await submit(t, entry);
    expect([barred.body.verdict, barred.body.ticket]).toEqual(['barred', null]);
    await send(entry, 3);
    expect(findingOf((await saved()).body)).toMatchObject({ result: 'met', measured: { value: 2 } });
    const clean = await submit(t, entry);
    expect(clean.body.verdict).toBe('clean');
    expect(await gate(t, event, entry.carNumber)).toMatchObject({ admit: false, status: 'in-line' });
  });

  test('keeps with a revision what was counted for it, so that it is judged the same again', async () => {
    const entry = await createTestEntry(t, event);
    const photos = [await send(entry, 1), await send(entry, 2), await send(entry, 3)];
    const { body: first } = await submit(t, entry);
    const row = await t.deps.db.prisma.inspection.findUniqueOrThrow({ where: { id: first.inspectionId } });
    expect(row.context).toMatchObject({ photos: { 'pad.thickness': 3 } });
    for (const photoId of photos.slice(1)) await t.api(entry.entrant).delete(`/v1/photos/${photoId}`).expect(204);
    expect(await judgedAgain(first.inspectionId)).toEqual({ declaration: 'same', line: undefined });
    const { body: second } = await submit(t, entry);
    expect(findingOf(second)).toMatchObject({ result: 'not-met', measured: { value: 1 } });
    expect(await judgedAgain(second.inspectionId)).toEqual({ declaration: 'same', line: undefined });
  });

  test('is judged at the line with the photos that are there then', async () => {
    const entry = await createTestEntry(t, event);
    const first = await send(entry, 1);
    await send(entry, 2);
    await send(entry, 3, { item: 'brake.pedal' });
    const { body: submitted } = await submit(t, entry);
    expect(submitted.verdict).toBe('clean');
    // Evidence that was taken away again does not carry the car past the line.
    await t.api(entry.entrant).delete(`/v1/photos/${first}`).expect(204);
    const claimed = await claim(t, event, entry.carNumber);
    expect(findingOf(claimed.body)).toMatchObject({ result: 'not-met', counts: 'bar', measured: { value: 1 } });
    const { claimId } = claimed.body;
    const refused = await signOff(t, claimId, { decision: 'accept', stickerNumber: 'P1' });
    expect([refused.status, refused.body.code]).toEqual([409, 'bar-stands']);
    // The inspector's own photo counts like any other.
    const taken = await sendPhoto(t, 'inspector', entry.entryId, await makePhoto({ seed: 9 }));
    expect(taken.status).toBe(201);
    const accepted = await signOff(t, claimId, { decision: 'accept', stickerNumber: 'P1' });
    expect(accepted.status, accepted.text).toBe(201);
    // Told in the answer is what counts; a rule that is met is explained when somebody asks.
    expect(findingOf(accepted.body)).toBeUndefined();
    const { body: why } = await t.api('marshal').get(`/v1/inspections/${submitted.inspectionId}/findings/pad-photos`);
    expect(why.atLine.positions).toMatchObject([{ comparison: { holds: true, text: expect.stringContaining('2') } }]);
    expect((await historyOf(t, entry.entryId)).at(-1)).toMatchObject({
      action: 'entry.signed-off',
      data: { photos: { 'pad.thickness': 2, 'brake.pedal': 1 } },
    });
    await t.api('chief').delete(`/v1/photos/${taken.body.photoId}`).expect(204);
    expect(await judgedAgain(submitted.inspectionId)).toEqual({ declaration: 'same', line: 'same' });
    expect(await judgedAgain(submitted.inspectionId, 'pedal-photo')).toEqual({ declaration: 'same', line: 'same' });
  });

  test('that only asks for a look is carried by looking', async () => {
    const entry = await createTestEntry(t, event);
    await send(entry, 1);
    await send(entry, 2);
    const { body } = await submit(t, entry);
    expect([body.verdict, findingOf(body, 'pedal-photo')?.counts]).toEqual(['to-inspect', 'inspect']);
    const claimed = await claim(t, event, entry.carNumber);
    const { claimId } = claimed.body;
    const open = await signOff(t, claimId, { decision: 'accept', stickerNumber: 'P2' });
    expect([open.status, open.body.code]).toEqual([409, 'points-not-checked']);
    const checks = [{ item: 'brake.pedal', result: 'ok' }];
    expect((await signOff(t, claimId, { decision: 'accept', stickerNumber: 'P2', checks })).status).toBe(201);
    expect((await judgedAgain(body.inspectionId, 'pedal-photo')).line).toBe('same');
  });

  test('is judged anew, when the organizer says so, with the photos of that time', async () => {
    const own = await createTestEvent(t, RULES);
    const [gained, lost] = [await createTestEntry(t, own), await createTestEntry(t, own)];
    for (const seed of [1, 2]) await send(gained, seed);
    const photos = [await send(lost, 1), await send(lost, 2), await send(lost, 3)];
    for (const entry of [gained, lost]) expect((await submit(t, entry)).body.verdict).toBe('to-inspect');
    await send(gained, 3);
    await t.api(lost.entrant).delete(`/v1/photos/${photos[0]}`).expect(204);
    const done = await rejudgeWithThree(own);
    const outcomeOf = ({ carNumber }: TestEntry) =>
      done.entries.find((one: { carNumber: string }) => one.carNumber === carNumber);
    expect(outcomeOf(gained)).toMatchObject({ outcome: 'judged-anew', after: 'to-inspect' });
    expect(outcomeOf(lost)).toMatchObject({ outcome: 'judged-anew', after: 'barred' });
    for (const [entry, value] of [
      [gained, 3],
      [lost, 2],
    ] as const) {
      const { body } = await t.api('marshal').get(`/v1/entries/${entry.entryId}/inspections?findings=all`);
      expect(findingOf(body.inspections[0])).toMatchObject({ measured: { value } });
      for (const { inspectionId } of body.inspections)
        expect((await judgedAgain(inspectionId)).declaration).toBe('same');
    }
  });
});

/** Publishes the rules with three photos asked for, points the group at them, and judges it anew. */
async function rejudgeWithThree(own: TestEvent) {
  const api = t.api('organizer');
  const path = `/v1/rule-sets/${own.ruleSetId}`;
  const group = `/v1/events/${own.eventId}/run-groups/${own.novice}`;
  const [first, ...others] = RULES.rules;
  const document = { ...RULES, rules: [{ ...first, test: { ...first?.test, atLeast: 3 } }, ...others] };
  await api.put(path).set('if-match', '*').send({ name: 'Test rules', document }).expect(200);
  await api.post(`${path}/publish`).set('if-match', '*').send({ changelog: 'Three photos' }).expect(201);
  const preview = await api.post(`${group}/preview`).send({ ruleSetVersion: 2 }).expect(200);
  const change = { ruleSetVersion: 2, preview: preview.body.preview };
  const { body } = await api.patch(group).set('if-match', '*').send(change).expect(200);
  const asked = await api.post(`${group}/rejudgements`).send({ rulesHash: body.rulesHash, reason: 'Three photos' });
  await runOrdered(t, asked, rejudgeJob);
  return (await t.api('marshal').get(asked.headers['location'] ?? '')).body;
}
