import { afterAll, beforeAll, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, type TestEvent } from '../support/event.ts';

let t: TestApp;
let event: TestEvent;
beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const limits = async (runGroupId: string) => (await t.api('organizer').get(`/v1/run-groups/${runGroupId}/limits`)).body;
const limit = async (runGroupId: string, name: string) =>
  (await limits(runGroupId)).limits.find((one: { name: string }) => one.name === name);

test('a limit says what it is, was, may be, which rules read it, why it is different and who made it so', async () => {
  expect(await limit(event.advanced, 'padMinimum')).toMatchObject({
    meaning: 'Least friction material',
    kind: 'number',
    unit: 'mm',
    value: 6,
    builtIn: 4,
    from: 'run-group',
    wholeNumber: false,
    plausible: { basis: 'item' },
    usedBy: [{ ruleId: 'pad-thickness', effect: 'bar' }],
  });
  expect(await limit(event.advanced, 'fluidMaxAge')).toMatchObject({ from: 'rule-set', wholeNumber: true, value: 12 });
  const path = `/v1/events/${event.eventId}/run-groups/${event.advanced}`;
  const parameters = { padMinimum: { value: 7, unit: 'mm', reason: 'Two heavy braking zones' } };
  const changed = await t.api('organizer').patch(path).set('if-match', '*').send({ parameters, reason: 'Season 2026' });
  expect(changed.status).toBe(200);
  const is = await limit(event.advanced, 'padMinimum');
  expect(is).toMatchObject({ value: 7, builtIn: 4, reason: 'Two heavy braking zones' });
  expect(is.changed).toMatchObject({ by: expect.any(String), at: expect.stringMatching(/^2026-06/) });
  // A reason judges nobody: the rules that come out are named by the same hash with and without.
  const hash = (await t.api('organizer').get(path)).body.rulesHash;
  const bare = { padMinimum: { value: 7, unit: 'mm' } };
  await t.api('organizer').patch(path).set('if-match', '*').send({ parameters: bare }).expect(200);
  expect((await t.api('organizer').get(path)).body.rulesHash).toBe(hash);
  expect((await limit(event.advanced, 'padMinimum')).reason).toBeUndefined();
});

test('what the venue changes is shown as the venue’s, with its reason', async () => {
  const path = `/v1/venues/${event.venueId}/overlays/${event.ruleSetId}`;
  const body = {
    parameters: { fluidMaxAge: { value: 6, unit: 'month', reason: 'Long straights' } },
    effects: { 'mats-out': { effect: 'bar', reason: 'Steep pit lane' } },
    rules: [],
  };
  await t.api('organizer').put(path).set('if-match', '"0"').send(body).expect(200);
  const group = `/v1/events/${event.eventId}/run-groups/${event.novice}`;
  await t.api('organizer').patch(group).set('if-match', '*').send({ takeVenueRules: true }).expect(200);
  expect(await limit(event.novice, 'fluidMaxAge')).toMatchObject({
    value: 6,
    builtIn: 12,
    from: 'venue',
    reason: 'Long straights',
  });
  const { effects } = await limits(event.novice);
  const mats = effects.find(({ ruleId }: { ruleId: string }) => ruleId === 'mats-out');
  expect(mats).toMatchObject({ effect: 'bar', builtIn: 'advise', from: 'venue', reason: 'Steep pit lane' });
});

test('the record of an entry says who said, saw, measured and decided what', async () => {
  const own = await createTestEvent(t);
  const entry = await createTestEntry(t, own);
  const condition = { text: 'Wheel torque again' };
  const checks = [{ item: 'pad.thickness', position: 'FL.in', value: { value: 7.5, unit: 'mm' }, note: 'by gauge' }];
  await accept(t, own, entry, {
    decision: 'accept-with-conditions',
    conditions: [condition],
    checks,
    stickerNumber: 'D-7',
  });
  const before = await t.api('organizer').get(`/v1/entries/${entry.entryId}/record`).expect(200);
  expect(before.body).toMatchObject({
    submissions: [{ revision: 1, by: expect.any(String) }],
    signOffs: [
      {
        decision: 'accept-with-conditions',
        stickerNumber: 'D-7',
        checks: [{ item: 'pad.thickness', note: 'by gauge' }],
      },
    ],
    conditions: [condition],
  });
  const { conditionId } = before.body.conditions[0];
  await t
    .api('chief')
    .post(`/v1/entries/${entry.entryId}/conditions/${conditionId}/done`)
    .send({ note: '110 Nm' })
    .expect(200);
  const after = await t.api('chief').get(`/v1/entries/${entry.entryId}/record`);
  expect(after.body.conditions[0].done).toMatchObject({ note: '110 Nm', by: expect.any(String) });
});
