import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { DRAFT_EXAMPLE } from '../../src/features/rules/rule-set-schemas.ts';
import { startTestApp, type TestApp } from '../support/app.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const FIRST_SESSION = '2026-06-13T07:20:00.000Z';

let t: TestApp;
let ruleSetId: string;
let venueId: string;

beforeAll(async () => {
  t = await startTestApp();
  const api = t.api('organizer');
  venueId = (await api.post('/v1/venues').send({ name: 'Field', timeZone: 'Europe/Berlin' })).body.venueId;
  ruleSetId = (await api.post('/v1/rule-sets').send(DRAFT_EXAMPLE)).body.ruleSetId;
  await api.post(`/v1/rule-sets/${ruleSetId}/publish`).set('if-match', '*').send({ changelog: 'First' });
});
afterAll(() => t.close());

async function newEvent(): Promise<string> {
  const { body } = await t.api('organizer').post('/v1/events').send({
    name: 'Club weekend',
    venueId,
    startsOn: '2026-06-13',
    endsOn: '2026-06-14',
    declarationsOpenAt: '2026-06-01T06:00:00Z',
    declarationsCloseAt: '2026-06-13T05:30:00Z',
  });
  return body.eventId;
}
const group = (change: object = {}) => ({
  name: 'Novice',
  order: 1,
  firstSessionAt: FIRST_SESSION,
  ruleSetId,
  ruleSetVersion: 1,
  ...change,
});
const create = (eventId: string, change: object = {}) =>
  t.api('organizer').post(`/v1/events/${eventId}/run-groups`).send(group(change));
const patch = (path: string, body: object, ifMatch = '*') =>
  t.api('organizer').patch(path).set('if-match', ifMatch).send(body);
const pointers = (body: { errors: { pointer: string }[] }) => body.errors.map((fault) => fault.pointer);

test('keeps a run group as it was sent', async () => {
  const eventId = await newEvent();
  const parameters = { padThicknessMinimum: { value: 0.25, unit: 'in' } };
  const { status, body, headers } = await create(eventId, { parameters });
  expect(status).toBe(201);
  expect(headers['etag']).toBe('"1"');
  expect(headers['location']).toBe(`/v1/events/${eventId}/run-groups/${body.runGroupId}`);
  expect(body).toEqual({
    ...group(),
    runGroupId: expect.any(String),
    eventId,
    parameters,
    overlay: { effects: {}, rules: [] },
    rulesHash: expect.stringMatching(/^[0-9a-f]{64}$/),
    firstSessionOnEventDay: true,
    sessions: [],
    wet: false,
    createdAt: expect.any(String),
  });
  const read = await t.api('marshal').get(headers['location'] ?? '');
  expect(read.body).toEqual(body);
});

test('lists by order, then name', async () => {
  const eventId = await newEvent();
  await create(eventId, { name: 'C', order: 1 });
  await create(eventId, { name: 'A', order: 2 });
  await create(eventId, { name: 'B', order: 1 });
  const { body } = await t.api('marshal').get(`/v1/events/${eventId}/run-groups`);
  expect(body.runGroups.map((row: { name: string }) => row.name)).toEqual(['B', 'C', 'A']);
});

describe('refuses', () => {
  // Berlin is two hours ahead of UTC in June: the event days are 12 June 22:00Z to 14 June 22:00Z, end exclusive.
  test.each([
    ['2026-06-12T22:00:00Z', 201],
    ['2026-06-12T21:59:59.999Z', 422],
    ['2026-06-14T21:59:59.999Z', 201],
    ['2026-06-14T22:00:00Z', 422],
    ['2026-06-15T01:00:00+03:00', 422],
  ])('a first session off the event days at the venue: %s → %i', async (firstSessionAt, status) => {
    const response = await create(await newEvent(), { firstSessionAt });
    expect(response.status).toBe(status);
    if (status === 422) expect(pointers(response.body)).toEqual(['/firstSessionAt']);
  });

  test.each([
    ['a version that is not published', { ruleSetVersion: 2 }, ['/ruleSetVersion']],
    ['a rule set that does not exist', { ruleSetId: UNKNOWN }, ['/ruleSetVersion']],
    ['a parameter the rule set lacks', { parameters: { nothing: { value: 1 } } }, ['/parameters/nothing']],
    [
      'a unit that does not convert',
      { parameters: { padThicknessMinimum: { value: 6, unit: 'kPa' } } },
      ['/parameters/padThicknessMinimum/unit'],
    ],
    [
      'several at once',
      { firstSessionAt: '2026-06-20T08:00:00Z', parameters: { nothing: { value: 1 } } },
      ['/firstSessionAt', '/parameters/nothing'],
    ],
  ])('%s with 422', async (_what, change, places) => {
    const response = await create(await newEvent(), change);
    expect(response.status).toBe(422);
    expect(response.body.code).toBe('not-acceptable');
    expect(pointers(response.body)).toEqual(places);
  });

  test.each([
    ['an unknown key', { colour: 'red' }, '/colour'],
    ['a version past any', { ruleSetVersion: 99_999_999_999 }, '/ruleSetVersion'],
    [
      'text that cannot be stored',
      { parameters: { padThicknessMinimum: { value: 'a\ud800' } } },
      '/parameters/padThicknessMinimum/value',
    ],
    ['a year nobody means', { firstSessionAt: '9999-12-31T23:59:59-12:00' }, '/firstSessionAt'],
  ])('%s with 400', async (_what, change, pointer) => {
    const response = await create(await newEvent(), change);
    expect(response.status).toBe(400);
    expect(pointers(response.body)).toEqual([pointer]);
  });

  test('a name twice in one event, also when sent at once', async () => {
    const eventId = await newEvent();
    const answers = await Promise.all([1, 2, 3, 4, 5].map(() => create(eventId)));
    expect(answers.map((answer) => answer.status).toSorted((a, b) => a - b)).toEqual([201, 409, 409, 409, 409]);
    expect(answers.find((answer) => answer.status === 409)?.body.code).toBe('name-taken');
    expect((await create(await newEvent())).status).toBe(201);
    const other = await create(eventId, { name: 'Other' });
    const renamed = await patch(`/v1/events/${eventId}/run-groups/${other.body.runGroupId}`, { name: 'Novice' });
    expect(renamed.status).toBe(409);
    expect(renamed.body.code).toBe('name-taken');
  });
});

describe('changing', () => {
  test('leaves what is not given, and needs the version it starts from', async () => {
    const eventId = await newEvent();
    const made = await create(eventId, { parameters: { padThicknessMinimum: { value: 6, unit: 'mm' } } });
    const path = made.headers['location'] ?? '';
    expect((await t.api('organizer').patch(path).send({ order: 7 })).status).toBe(428);
    const first = await patch(path, { order: 7 }, '"1"');
    expect(first.status).toBe(200);
    expect(first.body).toEqual({ ...made.body, order: 7 });
    expect(first.headers['etag']).toBe('"2"');
    const late = await patch(path, { order: 8 }, '"1"');
    expect(late.status).toBe(412);
    expect(late.headers['etag']).toBe('"2"');
  });

  test('sets an override as a whole and takes one away with null', async () => {
    const made = await create(await newEvent(), { parameters: { padThicknessMinimum: { value: 0.25, unit: 'in' } } });
    const path = made.headers['location'] ?? '';
    // A unit that stayed behind would turn 6 mm into 6 in.
    const set = await patch(path, { parameters: { padThicknessMinimum: { value: 6 } } });
    expect(set.body.parameters).toEqual({ padThicknessMinimum: { value: 6 } });
    const cleared = await patch(path, { parameters: { padThicknessMinimum: null } });
    expect(cleared.body.parameters).toEqual({});
  });

  test('checks overrides that stay against another version of the rules', async () => {
    const api = t.api('organizer');
    const made = await api.post('/v1/rule-sets').send(DRAFT_EXAMPLE);
    const id: string = made.body.ruleSetId;
    await api.post(`/v1/rule-sets/${id}/publish`).set('if-match', '*').send({ changelog: '1' });
    const text = JSON.stringify(DRAFT_EXAMPLE.document).replaceAll('padThicknessMinimum', 'padMinimum');
    await api
      .put(`/v1/rule-sets/${id}`)
      .set('if-match', '*')
      .send({ name: 'x', document: JSON.parse(text) });
    const second = await api.post(`/v1/rule-sets/${id}/publish`).set('if-match', '*').send({ changelog: '2' });
    expect(second.body.version).toBe(2);
    const parameters = { padThicknessMinimum: { value: 6 } };
    const run = await create(await newEvent(), { ruleSetId: id, parameters });
    const path = run.headers['location'] ?? '';
    const refused = await patch(path, { ruleSetVersion: 2 });
    expect(refused.status).toBe(422);
    expect(pointers(refused.body)).toEqual(['/parameters/padThicknessMinimum']);
    const both = { ruleSetVersion: 2, parameters: { padThicknessMinimum: null, padMinimum: { value: 6 } } };
    expect((await patch(path, both)).status).toBe(200);
  });

  test('by many at once changes it once', async () => {
    const made = await create(await newEvent());
    const path = made.headers['location'] ?? '';
    const answers = await Promise.all(Array.from({ length: 20 }, (_, i) => patch(path, { order: i }, '"1"')));
    expect(answers.filter((answer) => answer.status === 200)).toHaveLength(1);
    expect(answers.filter((answer) => answer.status === 412)).toHaveLength(19);
  });
});

test('an event that moved away says so on its run groups', async () => {
  const eventId = await newEvent();
  const made = await create(eventId);
  await patch(`/v1/events/${eventId}`, { startsOn: '2026-07-04', endsOn: '2026-07-05' });
  const path = made.headers['location'] ?? '';
  expect((await t.api('marshal').get(path)).body.firstSessionOnEventDay).toBe(false);
  const moved = await patch(path, { firstSessionAt: '2026-07-04T07:00:00Z' });
  expect(moved.body.firstSessionOnEventDay).toBe(true);
});

test('answers 404 for what does not exist, and for a run group of another event', async () => {
  const made = await create(await newEvent());
  const elsewhere = `/v1/events/${await newEvent()}/run-groups/${made.body.runGroupId}`;
  expect((await t.api('marshal').get(elsewhere)).status).toBe(404);
  expect((await patch(elsewhere, { order: 1 })).status).toBe(404);
  expect((await create(UNKNOWN)).status).toBe(404);
  expect((await t.api('marshal').get(`/v1/events/${UNKNOWN}/run-groups`)).status).toBe(404);
});

test('is written by organizers and read by staff', async () => {
  const eventId = await newEvent();
  const made = await create(eventId);
  const path = made.headers['location'] ?? '';
  for (const role of ['chief', 'inspector', 'marshal'] as const) {
    expect((await t.api(role).get(`/v1/events/${eventId}/run-groups`)).status).toBe(200);
    expect((await t.api(role).get(path)).status).toBe(200);
    expect((await t.api(role).post(`/v1/events/${eventId}/run-groups`).send(group())).status).toBe(403);
    expect((await t.api(role).patch(path).set('if-match', '*').send({ order: 1 })).status).toBe(403);
  }
});
