import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

let t: TestApp;
let venueId: string;

beforeAll(async () => {
  t = await startTestApp();
  const venue = await t.api('organizer').post('/v1/venues').send({ name: 'Field', timeZone: 'Europe/Berlin' });
  venueId = venue.body.venueId;
});
afterAll(() => t.close());

const event = (change: object = {}) => ({
  name: 'Club weekend',
  venueId,
  startsOn: '2026-06-13',
  endsOn: '2026-06-14',
  declarationsOpenAt: '2026-06-01T08:00:00+02:00',
  declarationsCloseAt: '2026-06-13T05:30:00Z',
  ...change,
});
const create = (change: object = {}) => t.api('organizer').post('/v1/events').send(event(change));
const patch = (eventId: string, body: object, ifMatch = '*') =>
  t.api('organizer').patch(`/v1/events/${eventId}`).set('if-match', ifMatch).send(body);
const pointers = (body: { errors: { pointer: string }[] }) => body.errors.map((fault) => fault.pointer);

test('keeps days as days and instants in UTC, and shows the zone of the venue', async () => {
  const { status, body, headers } = await create();
  expect(status).toBe(201);
  expect(headers['location']).toBe(`/v1/events/${body.eventId}`);
  expect(body).toEqual({
    eventId: expect.any(String),
    name: 'Club weekend',
    venueId,
    timeZone: 'Europe/Berlin',
    startsOn: '2026-06-13',
    endsOn: '2026-06-14',
    retentionDays: 365,
    lookAlikes: 'warn',
    instruments: [],
    zeroTwins: 'refuse',
    declarationsOpenAt: '2026-06-01T06:00:00.000Z',
    declarationsCloseAt: '2026-06-13T05:30:00.000Z',
    declarations: 'open',
    createdAt: expect.any(String),
  });
  const read = await t.api('marshal').get(`/v1/events/${body.eventId}`);
  expect(read.body).toEqual(body);
  expect(read.headers['etag']).toBe('"1"');
});

test('the declaration window opens at its first instant and is over at its last', async () => {
  const own = await startTestApp({ own: true });
  try {
    const venue = await own.api('organizer').post('/v1/venues').send({ name: 'Field', timeZone: 'UTC' });
    const made = await own
      .api('organizer')
      .post('/v1/events')
      .send(event({ venueId: venue.body.venueId }));
    const at = async (instant: string) => {
      own.clock.set(instant);
      return (await own.api('marshal').get(`/v1/events/${made.body.eventId}`)).body.declarations;
    };
    expect(await at('2026-06-01T05:59:59.999Z')).toBe('not-open');
    expect(await at('2026-06-01T06:00:00.000Z')).toBe('open');
    expect(await at('2026-06-13T05:29:59.999Z')).toBe('open');
    expect(await at('2026-06-13T05:30:00.000Z')).toBe('closed');
  } finally {
    await own.close();
  }
});

describe('refuses', () => {
  test.each([
    ['days in the wrong order', { endsOn: '2026-06-12' }, ['/endsOn']],
    ['more than 31 days', { endsOn: '2026-07-14' }, ['/endsOn']],
    ['a window that closes before it opens', { declarationsCloseAt: '2026-06-01T06:00:00Z' }, ['/declarationsCloseAt']],
    ['an unknown venue', { venueId: UNKNOWN }, ['/venueId']],
    ['several at once', { endsOn: '2026-06-12', venueId: UNKNOWN }, ['/endsOn', '/venueId']],
  ])('%s with 422', async (_what, change, places) => {
    const response = await create(change);
    expect(response.status).toBe(422);
    expect(response.body.code).toBe('not-acceptable');
    expect(pointers(response.body)).toEqual(places);
  });

  test.each([
    ['a day that does not exist', { startsOn: '2026-02-30' }, '/startsOn'],
    ['an instant without a zone', { declarationsOpenAt: '2026-06-01T08:00:00' }, '/declarationsOpenAt'],
    ['a year nobody means', { startsOn: '0206-06-13' }, '/startsOn'],
    ['a year the database cannot store', { declarationsOpenAt: '0000-01-01T00:00:00Z' }, '/declarationsOpenAt'],
    ['an unknown key', { organiser: 'x' }, '/organiser'],
    ['null', { name: null }, '/name'],
  ])('%s with 400', async (_what, change, pointer) => {
    const response = await create(change);
    expect(response.status).toBe(400);
    expect(pointers(response.body)).toEqual([pointer]);
  });

  test('31 days are possible', async () => {
    expect((await create({ endsOn: '2026-07-13' })).status).toBe(201);
  });
});

describe('changing', () => {
  test('leaves what is not given, and needs the version it starts from', async () => {
    const { body: made } = await create();
    const blind = await t.api('organizer').patch(`/v1/events/${made.eventId}`).send({ name: 'New' });
    expect(blind.status).toBe(428);
    const first = await patch(made.eventId, { name: 'New' }, '"1"');
    expect(first.status).toBe(200);
    expect(first.body).toEqual({ ...made, name: 'New' });
    expect(first.headers['etag']).toBe('"2"');
    const late = await patch(made.eventId, { name: 'Late' }, '"1"');
    expect(late.status).toBe(412);
    expect(late.headers['etag']).toBe('"2"');
  });

  test('checks the result as a whole', async () => {
    const { body: made } = await create();
    const response = await patch(made.eventId, { startsOn: '2026-06-15' });
    expect(response.status).toBe(422);
    expect(pointers(response.body)).toEqual(['/endsOn']);
    expect((await patch(made.eventId, { startsOn: '2026-06-15', endsOn: '2026-06-15' })).status).toBe(200);
  });

  test('refuses unknown keys and null', async () => {
    const { body: made } = await create();
    expect((await patch(made.eventId, { eventId: UNKNOWN })).status).toBe(400);
    expect((await patch(made.eventId, { name: null })).status).toBe(400);
  });

  test('by many at once changes it once', async () => {
    const { body: made } = await create();
    const answers = await Promise.all(
      Array.from({ length: 20 }, (_, i) => patch(made.eventId, { name: `N${i}` }, '"1"')),
    );
    expect(answers.filter((answer) => answer.status === 200)).toHaveLength(1);
    expect(answers.filter((answer) => answer.status === 412)).toHaveLength(19);
  });
});

test('lists the latest first day first, in pages that hold each event once', async () => {
  for (const day of ['2027-01-02', '2027-03-01', '2027-01-02', '2027-02-01']) {
    await create({ startsOn: day, endsOn: day });
  }
  const seen: { eventId: string; startsOn: string }[] = [];
  let url: string | undefined = '/v1/events?limit=2';
  while (url !== undefined) {
    const page: { status: number; body: { events: typeof seen }; headers: Record<string, string> } = await t
      .api('marshal')
      .get(url);
    expect(page.status).toBe(200);
    seen.push(...page.body.events);
    url = /^<([^>]+)>/.exec(page.headers['link'] ?? '')?.[1];
  }
  expect(new Set(seen.map((row) => row.eventId)).size).toBe(await t.deps.db.prisma.event.count());
  const days = seen.map((row) => row.startsOn);
  expect(days).toEqual(days.toSorted().toReversed());
  const wrong = await t.api('marshal').get('/v1/events').query({ cursor: 'WyJhIl0.AAAAAAAAAAAAAAAA' });
  expect(wrong.body.code).toBe('cursor-not-valid');
});

test('is written by organizers and read by staff; entrants see none', async () => {
  const { body: made } = await create();
  for (const role of ['chief', 'inspector', 'marshal'] as const) {
    expect((await t.api(role).get('/v1/events')).status).toBe(200);
    expect((await t.api(role).post('/v1/events').send(event())).status).toBe(403);
    expect((await t.api(role).patch(`/v1/events/${made.eventId}`).set('if-match', '*').send({})).status).toBe(403);
  }
  expect((await t.api('marshal').get(`/v1/events/${UNKNOWN}`)).status).toBe(404);
  expect((await patch(UNKNOWN, { name: 'x' })).status).toBe(404);
});
