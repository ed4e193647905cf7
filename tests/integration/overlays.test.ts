import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  SMALL_RULE_SET,
  submit,
  type TestEvent,
} from '../support/event.ts';

let t: TestApp;
let event: TestEvent;

const FLOORED = {
  ...SMALL_RULE_SET,
  rules: SMALL_RULE_SET.rules.map((rule) => (rule.id === 'pad-thickness' ? { ...rule, floor: true } : rule)),
};
const EXTRA_RULE = {
  id: 'tow-eye-fitted',
  title: 'Tow eye',
  items: ['body.tow-eye'],
  test: { kind: 'confirm', item: 'body.tow-eye' },
  effect: 'bar',
  message: 'A stranded car cannot be towed.',
  fix: 'Fit the tow eye before the first session.',
  basis: { kind: 'common-practice' },
};
const NOTHING = { parameters: {}, effects: {}, rules: [] };

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
beforeEach(async () => {
  event = await createTestEvent(t, FLOORED);
});

const overlayPath = () => `/v1/venues/${event.venueId}/overlays/${event.ruleSetId}`;
const groupPath = (runGroupId: string) => `/v1/events/${event.eventId}/run-groups/${runGroupId}`;
const putOverlay = (overlay: object, ifMatch = '"0"') =>
  t
    .api('organizer')
    .put(overlayPath())
    .set('if-match', ifMatch)
    .send({ ...NOTHING, ...overlay });
const patchGroup = (runGroupId: string, body: object) =>
  t.api('organizer').patch(groupPath(runGroupId)).set('if-match', '*').send(body);
const resolved = async (runGroupId: string) =>
  (await t.api('marshal').get(`/v1/run-groups/${runGroupId}/resolved-rules`).expect(200)).body;
const ruleOf = (view: { rules: { rule: { id: string } }[] }, id: string) =>
  view.rules.find(({ rule }) => rule.id === id);

describe('a venue overlay', () => {
  test('is kept with its version, listed, and taken away', async () => {
    const first = await putOverlay({ effects: { 'mats-out': { effect: 'bar', reason: 'Steep pit lane' } } });
    expect(first.status).toBe(200);
    expect(first.headers['etag']).toBe('"1"');
    expect(first.body).toMatchObject({ checkedAgainst: 1, effects: { 'mats-out': { effect: 'bar' } } });
    expect((await putOverlay({}, '"0"')).status).toBe(412);
    const read = await t.api('organizer').get(overlayPath());
    expect(read.headers['etag']).toBe('"1"');
    const list = await t.api('organizer').get(`/v1/venues/${event.venueId}/overlays`);
    expect(list.body.overlays).toHaveLength(1);
    expect((await t.api('organizer').delete(overlayPath()).set('if-match', '"1"')).status).toBe(204);
    expect((await t.api('organizer').get(overlayPath())).status).toBe(404);
  });

  test('names every fault with its place', async () => {
    const { status, body } = await putOverlay({
      parameters: { padMinimum: { value: 4, unit: 'kPa' } },
      effects: { 'no-such-rule': { effect: 'bar', reason: 'x' } },
      rules: [{ ...EXTRA_RULE, items: ['no.such-item'], test: { kind: 'confirm', item: 'no.such-item' } }],
    });
    expect(status).toBe(422);
    const places = body.errors.map((fault: { pointer: string; code: string }) => [fault.pointer, fault.code]);
    expect(places).toEqual(
      expect.arrayContaining([
        ['/parameters/padMinimum/unit', 'unit-clash'],
        ['/effects/no-such-rule', 'unknown-rule'],
        ['/rules/0/items/0', 'unknown-item'],
      ]),
    );
  });

  test('cannot loosen a floor', async () => {
    const loosened = await putOverlay({ parameters: { padMinimum: { value: 3.9, unit: 'mm' } } });
    expect(loosened.status).toBe(422);
    expect(loosened.body.errors[0]).toMatchObject({
      pointer: expect.stringContaining('padMinimum'),
      code: 'floor-loosened',
    });
    expect((await putOverlay({ parameters: { padMinimum: { value: 4.1, unit: 'mm' } } })).status).toBe(200);
    const watched = await putOverlay({ effects: { 'pad-thickness': { watch: true, reason: 'x' } } }, '"1"');
    expect(watched.body.errors[0]).toMatchObject({ code: 'floor-loosened' });
  });

  test('reaches a run group only when its rules are set or it takes them', async () => {
    await putOverlay({ rules: [EXTRA_RULE] }).expect(200);
    const before = await resolved(event.novice);
    expect(before.venueRulesAreNewer).toBe(true);
    expect(ruleOf(before, 'tow-eye-fitted')).toBeUndefined();
    await patchGroup(event.novice, { takeVenueRules: true }).expect(200);
    const after = await resolved(event.novice);
    expect(after.venueRulesAreNewer).toBe(false);
    expect(ruleOf(after, 'tow-eye-fitted')).toMatchObject({ from: 'venue' });
    expect(after.rulesHash).not.toBe(before.rulesHash);
  });
});

describe('resolved rules', () => {
  test('say where each value comes from', async () => {
    const reason = 'Wet grass in the run-off';
    await patchGroup(event.advanced, {
      parameters: { padMinimum: { value: 6, unit: 'mm' }, fluidMaxAge: { value: 6, unit: 'month' } },
      overlay: { effects: { 'mats-out': { effect: 'bar', reason } }, rules: [EXTRA_RULE] },
    }).expect(200);
    const view = await resolved(event.advanced);
    expect(view.parameters).toEqual([
      {
        name: 'padMinimum',
        value: 6,
        unit: 'mm',
        meaning: 'Least friction material',
        from: 'run-group',
        was: { value: 4, unit: 'mm' },
      },
      {
        name: 'fluidMaxAge',
        value: 6,
        unit: 'month',
        meaning: 'Oldest brake fluid',
        from: 'run-group',
        was: { value: 12, unit: 'month' },
      },
    ]);
    expect(ruleOf(view, 'mats-out')).toMatchObject({
      from: 'rule-set',
      changed: { by: 'run-group', reason, was: { effect: 'advise', watch: false } },
      rule: { effect: 'bar' },
    });
    expect(ruleOf(view, 'tow-eye-fitted')).toMatchObject({ from: 'run-group' });
    expect(ruleOf(view, 'pedal-firm')).toMatchObject({ from: 'rule-set' });
  });

  test('judge the group: an added rule bars, a raised effect bars, a rule on watch judges nobody', async () => {
    await patchGroup(event.novice, {
      overlay: {
        effects: {
          'mats-out': { effect: 'bar', reason: 'x' },
          'pedal-firm': { watch: true, reason: 'on trial this weekend' },
        },
        rules: [EXTRA_RULE],
      },
    }).expect(200);
    const entry = await createTestEntry(t, event);
    const answers = { ...GOOD_ANSWERS, 'body.floor-mats-out': false, 'brake.pedal': 'spongy' };
    const { body } = await submit(t, entry, answers);
    const counts = Object.fromEntries(
      body.findings
        .filter((finding: { position?: string }) => finding.position === undefined)
        .map((finding: { ruleId: string; counts: string }) => [finding.ruleId, finding.counts]),
    );
    expect(counts).toMatchObject({ 'mats-out': 'bar', 'tow-eye-fitted': 'bar', 'pedal-firm': 'no' });
    const watched = body.findings.find((finding: { ruleId: string }) => finding.ruleId === 'pedal-firm');
    expect(watched).toMatchObject({ result: 'not-met', watched: true });
  });

  test('are 404 for a run group that does not exist', async () => {
    await t.api('marshal').get('/v1/run-groups/019ab8f0-0000-7000-8000-00000000dead/resolved-rules').expect(404);
  });
});

describe('once entrants have declared', () => {
  test('other rules are taken only after a look at who would change', async () => {
    const entry = await createTestEntry(t, event);
    await submit(t, entry);
    const change = { parameters: { padMinimum: { value: 9, unit: 'mm' } } };
    const refused = await patchGroup(event.novice, change);
    expect(refused.status).toBe(409);
    expect(refused.body).toMatchObject({ code: 'preview-needed', preview: `${groupPath(event.novice)}/preview` });
    const preview = await t.api('organizer').post(refused.body.preview).send(change).expect(200);
    const taken = await patchGroup(event.novice, { ...change, preview: preview.body.preview });
    expect(taken.status).toBe(200);
    expect(taken.body.rulesHash).toBe(preview.body.preview);
    // another change is not covered by that look
    const other = { parameters: { padMinimum: { value: 7, unit: 'mm' } }, preview: preview.body.preview };
    expect((await patchGroup(event.novice, other)).body.code).toBe('preview-needed');
    expect((await patchGroup(event.novice, { name: 'Beginners' })).status).toBe(200);
  });

  test('what was judged stays as it was judged', async () => {
    const entry = await createTestEntry(t, event);
    const submitted = await submit(t, entry);
    const change = { parameters: { padMinimum: { value: 9, unit: 'mm' } } };
    const preview = await t
      .api('organizer')
      .post(`${groupPath(event.novice)}/preview`)
      .send(change)
      .expect(200);
    await patchGroup(event.novice, { ...change, preview: preview.body.preview }).expect(200);
    const read = await t.api('marshal').get(`/v1/inspections/${submitted.body.inspectionId}`);
    expect(read.body).toEqual({ ...submitted.body, ticket: read.body.ticket });
    expect(read.body.verdict).toBe('clean');
  });
});
