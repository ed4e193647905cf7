import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const VENUE = {
  name: 'Alder Ridge Circuit',
  timeZone: 'Europe/Berlin',
  lapLengthM: 3420,
  brakingZones: [
    { name: 'Mill hairpin', fromKmh: 212, toKmh: 74 },
    { fromKmh: 160, toKmh: 90 },
  ],
  topSpeedKmh: 224,
  soundLimit: { levelDb: 95, distanceM: 20 },
  designAirTemperatureC: 28,
};

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

const create = (body: object) => t.api('organizer').post('/v1/venues').send(body);

test('keeps a venue as it was sent, and its least form', async () => {
  const full = await create(VENUE);
  expect(full.status).toBe(201);
  expect(full.headers['etag']).toBe('"1"');
  expect(full.headers['location']).toBe(`/v1/venues/${full.body.venueId}`);
  const { venueId, ...rest } = full.body;
  expect(rest).toEqual(VENUE);
  const read = await t.api('organizer').get(`/v1/venues/${venueId}`);
  expect(read.body).toEqual(full.body);
  const least = await create({ name: 'Field', timeZone: 'UTC' });
  expect(least.body).toEqual({ venueId: least.body.venueId, name: 'Field', timeZone: 'UTC', brakingZones: [] });
  const list = await t.api('organizer').get('/v1/venues');
  expect(list.body.venues.map((venue: { name: string }) => venue.name)).toEqual([VENUE.name, 'Field']);
});

test.each([
  ['an unknown time zone', { timeZone: 'Mars/Base' }, '/timeZone'],
  ['a fixed offset, which has no summer time', { timeZone: '+02:00' }, '/timeZone'],
  ['braking that speeds up', { brakingZones: [{ fromKmh: 80, toKmh: 90 }] }, '/brakingZones/0/fromKmh'],
  ['an impossible sound level', { soundLimit: { levelDb: 400, distanceM: 20 } }, '/soundLimit/levelDb'],
  ['an unknown key', { lapLenghtM: 3420 }, '/lapLenghtM'],
  [
    'an unknown key further in',
    { soundLimit: { levelDb: 95, distanceM: 20, weighting: 'A' } },
    '/soundLimit/weighting',
  ],
])('refuses %s with its place', async (_what, change, pointer) => {
  const response = await create({ ...VENUE, ...change });
  expect(response.status).toBe(400);
  expect(response.body.errors.map((fault: { pointer: string }) => fault.pointer)).toEqual([pointer]);
});

describe('replacing', () => {
  test('needs the version it starts from', async () => {
    const { body } = await create(VENUE);
    const put = () => t.api('organizer').put(`/v1/venues/${body.venueId}`).send({ name: 'New', timeZone: 'UTC' });
    const blind = await put();
    expect(blind.status).toBe(428);
    expect(blind.body.code).toBe('precondition-required');
    const first = await put().set('if-match', '"1"');
    expect(first.status).toBe(200);
    expect(first.body).toEqual({ venueId: body.venueId, name: 'New', timeZone: 'UTC', brakingZones: [] });
    expect(first.headers['etag']).toBe('"2"');
    const late = await put().set('if-match', '"1"');
    expect(late.status).toBe(412);
    expect(late.headers['etag']).toBe('"2"');
    expect((await put().set('if-match', 'W/"2"')).status).toBe(412);
  });

  test('by many at once changes it once', async () => {
    const { body } = await create(VENUE);
    const answers = await Promise.all(
      Array.from({ length: 20 }, (_, i) =>
        t
          .api('organizer')
          .put(`/v1/venues/${body.venueId}`)
          .set('if-match', '"1"')
          .send({ ...VENUE, name: `N${i}` }),
      ),
    );
    const codes = answers.map((answer) => answer.status).toSorted((a, b) => a - b);
    expect(codes).toEqual([200, ...Array.from({ length: 19 }, () => 412)]);
    const winner = answers.find((answer) => answer.status === 200);
    const now = await t.api('organizer').get(`/v1/venues/${body.venueId}`);
    expect(now.body.name).toBe(winner?.body.name);
  });
});

test('answers 404 for a venue that does not exist', async () => {
  expect((await t.api('organizer').get(`/v1/venues/${UNKNOWN}`)).status).toBe(404);
  const put = await t.api('organizer').put(`/v1/venues/${UNKNOWN}`).set('if-match', '*').send(VENUE);
  expect(put.status).toBe(404);
});

test('is for organizers', async () => {
  for (const role of ['chief', 'inspector', 'marshal'] as const) {
    expect((await t.api(role).get('/v1/venues')).status).toBe(403);
    expect((await t.api(role).post('/v1/venues').send(VENUE)).status).toBe(403);
  }
});
