import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { liveEvents, tokenEndAt } from '../../src/http/access/auth.ts';
import { startTestApp, TEST_NOW, type TestApp, type TestToken } from '../support/app.ts';
import { createTestEntry, createTestEvent, submit, type TestEvent } from '../support/event.ts';

let t: TestApp;
let here: TestEvent;
let there: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  here = await createTestEvent(t);
  there = await createTestEvent(t);
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

type Staff = 'marshal' | 'inspector' | 'chief';
const organizer = () => t.api('organizer');

async function hire(role: Staff, events: readonly TestEvent[]): Promise<TestToken> {
  const body = { role, holder: `Bound ${role}`, eventIds: events.map(({ eventId }) => eventId) };
  const minted = await organizer().post('/v1/tokens').send(body).expect(201);
  return { ...minted.body, holder: body.holder };
}

async function moveTo(event: TestEvent, days: { startsOn: string; endsOn: string }): Promise<void> {
  const url = `/v1/events/${event.eventId}`;
  const { headers } = await organizer().get(url);
  await organizer()
    .patch(url)
    .set('if-match', headers['etag'] ?? '')
    .send(days)
    .expect(200);
}

describe('a token for an event', () => {
  test('works below it, and what is below another looks as if it were not there', async () => {
    const own = await createTestEntry(t, here);
    const foreign = await createTestEntry(t, there);
    const { body: made } = await submit(t, foreign);
    const inspector = t.api(await hire('inspector', [here]));
    for (const [url, id] of [
      ['', here.eventId],
      ['/gate', here.eventId],
      [`/gate/${own.carNumber}`, here.eventId],
      ['/line', here.eventId],
      ['/readiness', here.eventId],
    ]) {
      expect((await inspector.get(`/v1/events/${id}${url}`)).status, url).toBe(200);
    }
    const { vehicleId } = (await organizer().get(`/v1/entries/${foreign.entryId}`)).body;
    for (const url of [
      `/v1/events/${there.eventId}`,
      `/v1/events/${there.eventId}/gate`,
      `/v1/events/${there.eventId}/gate/${foreign.carNumber}`,
      `/v1/events/${there.eventId}/stream`,
      `/v1/events/${there.eventId}/run-groups/${there.novice}`,
      `/v1/run-groups/${there.novice}/resolved-rules`,
      `/v1/entries/${foreign.entryId}`,
      `/v1/entries/${foreign.entryId.toUpperCase()}/history`,
      `/v1/inspections/${made.inspectionId}`,
      `/v1/vehicles/${vehicleId}/records`,
    ]) {
      const answer = await inspector.get(url);
      expect([answer.status, answer.body.code], url).toEqual([404, 'not-found']);
    }
    expect((await inspector.post(`/v1/entries/${foreign.entryId}/holds`).send({ reason: 'leak' })).status).toBe(404);
    expect((await inspector.get('/v1/events')).body.events.map((one: TestEvent) => one.eventId)).toEqual([
      here.eventId,
    ]);
    expect((await inspector.get('/v1/own-token')).body.eventIds).toEqual([here.eventId]);
  });

  test('may be for several, and reaches each of them', async () => {
    const marshal = t.api(await hire('marshal', [here, there]));
    for (const { eventId } of [here, there]) expect((await marshal.get(`/v1/events/${eventId}/gate`)).status).toBe(200);
  });

  test('ends with the day after the event at the venue, at the gate as well, and moves with it', async () => {
    const event = await createTestEvent(t);
    const entry = await createTestEntry(t, event);
    const token = await hire('marshal', [event]);
    const urls = [`/v1/events/${event.eventId}/gate`, `/v1/events/${event.eventId}/gate/${entry.carNumber}`];
    const statuses = async (instant: string) => {
      t.clock.set(instant);
      const codes = await Promise.all(urls.map(async (url) => (await t.api(token).get(url)).status));
      t.clock.set(TEST_NOW);
      return codes;
    };
    // 14 June is the last day; the end of the 15th in Berlin, two hours ahead of UTC in summer.
    expect(await statuses('2026-06-15T21:59:59.999Z')).toEqual([200, 200]);
    expect(await statuses('2026-06-15T22:00:00.000Z')).toEqual([401, 401]);
    await moveTo(event, { startsOn: '2026-06-20', endsOn: '2026-06-21' });
    expect(await statuses('2026-06-22T21:59:59.999Z')).toEqual([200, 200]);
    expect(await statuses('2026-06-22T22:00:00.000Z')).toEqual([401, 401]);
    await moveTo(event, { startsOn: '2026-06-06', endsOn: '2026-06-07' });
    expect(await statuses(TEST_NOW)).toEqual([401, 401]);
  });

  test('of one that is over and one that is to come works at the second only', async () => {
    const later = await createTestEvent(t);
    const token = await hire('marshal', [here, later]);
    await moveTo(later, { startsOn: '2026-08-01', endsOn: '2026-08-01' });
    t.clock.set('2026-07-01T00:00:00Z');
    expect((await t.api(token).get(`/v1/events/${here.eventId}/gate`)).status).toBe(404);
    expect((await t.api(token).get(`/v1/events/${later.eventId}/gate`)).status).toBe(200);
  });

  // The same instant by the library and by the database, also where a day has no midnight (Beirut, 29 March 2026) and
  // far from UTC. Zones: IANA time zone database.
  test.each([
    ['Europe/Berlin', '2026-10-24'],
    ['Asia/Beirut', '2026-03-27'],
    ['Pacific/Kiritimati', '2026-06-14'],
    ['America/Los_Angeles', '2026-03-06'],
  ])('ends at one instant, however it is computed: %s', async (timeZone, endsOn) => {
    const zone = { name: 'Zone', timeZone };
    const venue = await organizer().post('/v1/venues').send(zone).expect(201);
    const { eventId } = (
      await organizer()
        .post('/v1/events')
        .send({
          name: `In ${timeZone}`,
          venueId: venue.body.venueId,
          startsOn: endsOn,
          endsOn,
          declarationsOpenAt: '2026-01-01T00:00:00Z',
          declarationsCloseAt: '2026-02-01T00:00:00Z',
        })
        .expect(201)
    ).body;
    const { tokenId } = await t.mint('marshal');
    await t.deps.db.prisma.tokenEvent.create({ data: { tokenId, eventId } });
    const live = async (at: Date) => {
      const text = `SELECT ${liveEvents('tokens', '$2')} AS ids FROM tokens WHERE id = $1`;
      const { rows } = await t.deps.db.pool.query<{ ids: string[] }>(text, [tokenId, at]);
      return rows[0]?.ids;
    };
    const end = tokenEndAt({ endsOn, timeZone });
    expect(await live(new Date(end.getTime() - 1))).toEqual([eventId]);
    expect(await live(end)).toEqual([]);
  });
});

describe('what is asked for', () => {
  test.each([
    ['a marshal for no event', { role: 'marshal', holder: 'A' }, 400, '/eventIds'],
    ['an empty list', { role: 'marshal', holder: 'A', eventIds: [] }, 400, '/eventIds'],
    ['an organizer for an event', { role: 'organizer', holder: 'A', eventIds: ['here'] }, 400, '/eventIds'],
    ['an event twice', { role: 'chief', holder: 'A', eventIds: ['here', 'here'] }, 400, '/eventIds'],
    ['an unknown event', { role: 'chief', holder: 'A', eventIds: ['here', 'unknown'] }, 422, '/eventIds/1'],
  ])('is refused with its place: %s', async (_what, body, status, pointer) => {
    const ids: Record<string, string> = { here: here.eventId, unknown: '019ab8f0-0000-7000-8000-00000000dead' };
    const named = 'eventIds' in body ? { ...body, eventIds: body.eventIds?.map((id) => ids[id]) } : body;
    for (const url of ['/v1/tokens', '/v1/enrolments']) {
      const answer = await organizer().post(url).send(named);
      expect([url, answer.status]).toEqual([url, status]);
      expect(answer.body.errors[0].pointer).toBe(pointer);
    }
  });

  test('is refused for an event that is over', async () => {
    t.clock.set('2026-06-15T22:00:00.000Z');
    const body = { role: 'marshal', holder: 'A', eventIds: [here.eventId] };
    for (const url of ['/v1/tokens', '/v1/enrolments']) {
      const answer = await organizer().post(url).send(body);
      expect([answer.status, answer.body.errors?.[0]?.code]).toEqual([422, 'past']);
    }
  });

  test('a chief lets others in at his own events only, and the device is for them', async () => {
    const chief = t.api(await hire('chief', [here]));
    const body = { role: 'marshal', holder: 'Gate tablet', eventIds: [there.eventId] };
    expect((await chief.post('/v1/enrolments').send(body)).status).toBe(422);
    const made = await chief.post('/v1/enrolments').send({ ...body, eventIds: [here.eventId] });
    expect(made.body.eventIds).toEqual([here.eventId]);
    const redeemed = await t.api(undefined).post('/v1/enrolments/redeem').send({ code: made.body.code }).expect(201);
    expect(redeemed.body.eventIds).toEqual([here.eventId]);
    const get = (eventId: string) =>
      t.api(undefined).get(`/v1/events/${eventId}/gate`).set('authorization', `Bearer ${redeemed.body.token}`);
    expect((await get(here.eventId)).status).toBe(200);
    expect((await get(there.eventId)).status).toBe(404);
  });
});

describe('a token from before', () => {
  test('works everywhere and is listed as unbound, until it is bound', async () => {
    const old = await t.mint('marshal', { holder: 'Last year' });
    const gate = (event: TestEvent) => t.api(old).get(`/v1/events/${event.eventId}/gate`);
    const listed = async () =>
      (await organizer().get('/v1/tokens?limit=200')).body.tokens.find(
        (one: { tokenId: string }) => one.tokenId === old.tokenId,
      );
    expect((await gate(there)).status).toBe(200);
    expect(await listed()).toMatchObject({ unbound: true, state: 'live' });
    expect(await listed()).not.toHaveProperty('endsAt');
    const bind = `/v1/tokens/${old.tokenId}/bind`;
    const bound = await organizer()
      .post(bind)
      .send({ eventIds: [here.eventId] });
    expect(bound.status).toBe(200);
    expect(bound.body).toEqual(await listed());
    expect(bound.body).toMatchObject({ unbound: false, endsAt: '2026-06-15T22:00:00.000Z' });
    expect(bound.body.events).toEqual([
      { eventId: here.eventId, name: expect.any(String), endsAt: '2026-06-15T22:00:00.000Z' },
    ]);
    expect((await gate(there)).status).toBe(404);
    expect((await gate(here)).status).toBe(200);
    await organizer()
      .post(bind)
      .send({ eventIds: [there.eventId] })
      .expect(200);
    expect((await gate(here)).status).toBe(404);
    t.clock.set('2026-06-15T22:00:00.000Z');
    expect(await listed()).toMatchObject({ state: 'expired' });
  });

  test('of an organizer or an entrant is not for events, and one that was revoked stays so', async () => {
    const body = { eventIds: [here.eventId] };
    const { entrant } = await createTestEntry(t, here);
    const gone = await t.mint('marshal');
    await organizer().delete(`/v1/tokens/${gone.tokenId}`).expect(204);
    for (const { tokenId } of [entrant, await t.mint('organizer'), gone]) {
      expect((await organizer().post(`/v1/tokens/${tokenId}/bind`).send(body)).status).toBe(422);
    }
    expect((await organizer().post(`/v1/tokens/${here.eventId}/bind`).send(body)).status).toBe(404);
    expect((await organizer().get('/v1/tokens?limit=200')).body.tokens).toContainEqual(
      expect.objectContaining({ tokenId: entrant.tokenId, unbound: false }),
    );
  });
});
