import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { rejudgeJob } from '../../src/features/rules/trials/rejudge.job.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  accept,
  claim,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  signOff,
  SMALL_RULE_SET,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { runOrdered } from '../support/jobs.ts';
import { sql } from '../support/records.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const PADS = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];
const answersWith = (thinnest: number) => ({
  ...GOOD_ANSWERS,
  'pad.thickness': Object.fromEntries(PADS.map((position, at) => [position, at === 0 ? thinnest : 8])),
});

let t: TestApp;
let event: TestEvent;
let group: string;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t);
  group = `/v1/events/${event.eventId}/run-groups/${event.novice}`;
});

const preview = (body: object = {}) => t.api('organizer').post(`${group}/preview`).send(body);
const pads = (value: number) => ({ parameters: { padMinimum: { value, unit: 'mm' } } });

async function enter(thinnest: number): Promise<TestEntry> {
  const entry = await createTestEntry(t, event);
  expect((await submit(t, entry, answersWith(thinnest))).status).toBe(201);
  return entry;
}

/** Publishes the small rules with another pad rule; returns the version. */
async function publish(rule: object): Promise<number> {
  const api = t.api('organizer');
  const rules = SMALL_RULE_SET.rules.map((one) => (one.id === 'pad-thickness' ? { ...one, ...rule } : one));
  const path = `/v1/rule-sets/${event.ruleSetId}`;
  // an unchanged draft cannot be published again
  const document = { ...SMALL_RULE_SET, description: 'Bulletin', rules };
  await api.put(path).set('if-match', '*').send({ name: 'Test rules', document }).expect(200);
  return (await api.post(`${path}/publish`).set('if-match', '*').send({ changelog: 'Bulletin' }).expect(201)).body
    .version;
}

async function contents(): Promise<string> {
  const tables = await sql<{ name: string }>(
    t,
    `SELECT table_name AS name FROM information_schema.tables
      WHERE table_schema = 'public' AND table_type = 'BASE TABLE' ORDER BY 1`,
  );
  const hashes = await Promise.all(
    tables.map(({ name }) =>
      sql(t, `SELECT '${name}' AS name, count(*), md5(string_agg(r::text, '|' ORDER BY r::text)) FROM "${name}" r`),
    ),
  );
  expect(hashes.length).toBeGreaterThan(20);
  return JSON.stringify(hashes);
}

describe('a preview', () => {
  test('shows who would change and by how much, and its value is what PATCH asks for', async () => {
    const thin = await enter(4.5);
    await enter(8);
    await createTestEntry(t, event);
    const other = await createTestEntry(t, event, { runGroupId: event.advanced });
    await submit(t, other, answersWith(4.5));
    const { status, body } = await preview(pads(5));
    expect(status).toBe(200);
    expect(body.totals).toMatchObject({ judged: 2, flipped: 1, newlyBarred: 1 });
    expect(body.flips).toMatchObject([
      {
        carNumber: thin.carNumber,
        because: [{ ruleId: 'pad-thickness', position: 'FL.in', after: { limit: '≥ 5 mm' } }],
      },
    ]);
    expect(body.nearest.notMet).toMatchObject([{ measured: 4.5, margin: { value: -0.5, unit: 'mm' } }]);
    expect(body.onRejudgement).toEqual({
      judgedAnew: 2,
      recalled: 0,
      signedOff: 0,
      refused: 0,
      sameRules: 0,
      notDeclared: 1,
      withdrawn: 0,
    });
    const patch = (more: object) =>
      t
        .api('organizer')
        .patch(group)
        .set('if-match', '*')
        .send({ ...pads(5), ...more });
    const refused = await patch({});
    expect([refused.status, refused.body.code]).toEqual([409, 'preview-needed']);
    expect(refused.body.preview).toBe(`${group}/preview`);
    expect((await patch({ preview: body.preview })).status).toBe(200);
  });

  test('writes nothing', async () => {
    await enter(4.5);
    await accept(t, event, await createTestEntry(t, event));
    const version = await publish({ recall: true });
    const before = await contents();
    const { body } = await preview({ ruleSetVersion: version, ...pads(9) });
    expect(body.totals.flipped).toBe(2);
    expect(await contents()).toBe(before);
  });

  test('of nothing shows the rules of today', async () => {
    await enter(4.5);
    const { body } = await preview();
    expect(body).toMatchObject({ sameRules: true, flips: [], onRejudgement: { sameRules: 1 } });
    const read = await t.api('organizer').get(group);
    expect(body.preview).toBe(read.body.rulesHash);
    const named = await preview({ name: 'Beginners' });
    expect(named.body.preview).toBe(body.preview);
  });

  test('of a group from before overlays compares with what was stored', async () => {
    await sql(t, `UPDATE run_groups SET resolved_hash = NULL, overlay = '{}' WHERE id = $1`, [event.novice]);
    await enter(4.5);
    const { body } = await preview();
    expect(body).toMatchObject({
      sameRules: false,
      flips: [],
      totals: { judged: 1 },
      onRejudgement: { judgedAnew: 1 },
    });
    expect((await preview(pads(5))).body.totals.newlyBarred).toBe(1);
  });

  test('of a lowered effect shows cars that get better', async () => {
    await enter(3);
    const effects = { 'pad-thickness': { effect: 'inspect', reason: 'The line measures every pad' } };
    const { body } = await preview({ overlay: { effects, rules: [] } });
    expect(body.flips).toMatchObject([
      { before: 'barred', after: 'to-inspect', because: [{ after: { counts: 'inspect' } }] },
    ]);
    expect(body.totals).toMatchObject({ newlyToInspect: 1, newlyBarred: 0 });
  });
});

describe('which accepted cars would drop to the line', () => {
  test('none without a rule marked recall', async () => {
    await accept(t, event, await createTestEntry(t, event));
    const { body } = await preview({ ruleSetVersion: await publish({}), ...pads(9) });
    expect(body.recalled).toEqual([]);
    expect(body.onRejudgement).toMatchObject({ signedOff: 1, recalled: 0 });
    // the declaration would be barred all the same
    expect(body.flips).toMatchObject([{ accepted: true, after: 'barred' }]);
  });

  test('those that do not meet a tightened one, as declared', async () => {
    const entry = await createTestEntry(t, event);
    await accept(t, event, entry);
    const version = await publish({ recall: true });
    const { body } = await preview({ ruleSetVersion: version, ...pads(9) });
    expect(body.recalled).toHaveLength(1);
    expect(body.recalled[0]).toMatchObject({ entryId: entry.entryId, carNumber: entry.carNumber });
    expect(body.recalled[0].because).toHaveLength(8);
    expect(body.recalled[0].because[0]).toEqual({
      ruleId: 'pad-thickness',
      title: 'Brake pad friction material',
      position: 'FL.in',
      message: 'The pad is too thin to last the event.',
    });
    // looser than before, so nobody is recalled, whatever the mark says
    expect((await preview({ ruleSetVersion: version, ...pads(3) })).body.recalled).toEqual([]);
  });

  test('none whose pads the line measured thick enough', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const claimed = await claim(t, event, entry.carNumber);
    const checks = PADS.map((position) => ({ item: 'pad.thickness', position, value: 10 }));
    const signed = await signOff(t, claimed.body.claimId, { decision: 'accept', stickerNumber: 'M1', checks });
    expect(signed.status).toBe(201);
    const { body } = await preview({ ruleSetVersion: await publish({ recall: true }), ...pads(9) });
    expect(body.recalled).toEqual([]);
    expect(body.onRejudgement).toMatchObject({ signedOff: 1 });
  });

  test('exactly those that a re-judgement then recalls', async () => {
    await accept(t, event, await createTestEntry(t, event));
    const kept = await createTestEntry(t, event);
    await submit(t, kept, answersWith(8));
    await enter(4.5);
    await createTestEntry(t, event);
    const gone = await enter(6);
    await t.api('organizer').post(`/v1/entries/${gone.entryId}/withdraw`).send({}).expect(200);
    const refused = await createTestEntry(t, event);
    await submit(t, refused);
    const claimed = await claim(t, event, refused.carNumber);
    await signOff(t, claimed.body.claimId, { decision: 'refuse', note: 'Leaks' });
    const change = { ruleSetVersion: await publish({ recall: true }), ...pads(9) };
    const { body } = await preview(change);
    const moved = await t
      .api('organizer')
      .patch(group)
      .set('if-match', '*')
      .send({ ...change, preview: body.preview })
      .expect(200);
    const asked = await t
      .api('organizer')
      .post(`${group}/rejudgements`)
      .send({ rulesHash: moved.body.rulesHash, reason: 'Bulletin' });
    await runOrdered(t, asked, rejudgeJob);
    const done = await t.api('organizer').get(asked.headers['location'] ?? '');
    const outcomes = (outcome: string): string[] =>
      done.body.entries
        .filter((entry: { outcome: string }) => entry.outcome === outcome)
        .map((entry: { carNumber: string }) => entry.carNumber);
    expect(body.recalled.map((car: { carNumber: string }) => car.carNumber)).toEqual(outcomes('recalled'));
    expect(body.onRejudgement).toEqual({
      judgedAnew: outcomes('judged-anew').length,
      recalled: 1,
      signedOff: outcomes('signed-off').length,
      refused: outcomes('refused').length,
      sameRules: outcomes('same-rules').length,
      notDeclared: outcomes('not-declared').length,
      withdrawn: outcomes('withdrawn').length,
    });
    expect(body.onRejudgement).toMatchObject({ judgedAnew: 2, refused: 1, notDeclared: 1, withdrawn: 1 });
  });
});

describe('refuses', () => {
  test.each([
    ['a version that is not published', { ruleSetVersion: 9 }, 422, '/ruleSetVersion'],
    ['a parameter the rules lack', { parameters: { nothing: { value: 1 } } }, 422, '/parameters/nothing'],
    [
      'an effect of an unknown rule',
      { overlay: { effects: { none: { effect: 'bar', reason: 'x' } }, rules: [] } },
      422,
      '/overlay/effects/none',
    ],
    ['an unknown key', { colour: 'red' }, 400, '/colour'],
  ])('%s', async (_what, body, status, pointer) => {
    const answer = await preview(body);
    expect(answer.status).toBe(status);
    expect(answer.body.errors[0].pointer).toBe(pointer);
  });

  test('a run group that does not exist', async () => {
    const path = `/v1/events/${event.eventId}/run-groups/${UNKNOWN}/preview`;
    expect((await t.api('organizer').post(path).send({})).status).toBe(404);
  });
});
