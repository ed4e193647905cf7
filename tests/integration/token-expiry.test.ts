import { afterAll, beforeAll, expect, test } from 'vitest';
import { ensureOrganizerToken } from '../../src/features/access/bootstrap.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEvent } from '../support/event.ts';

let t: TestApp;
let event: TestEvent;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
});
afterAll(() => t.close());

const mint = (body: object) => t.api('organizer').post('/v1/tokens').send(body);
const mintStaff = (body: object) => mint({ ...body, eventIds: [event.eventId] });
const as = (token: string, url: string) => t.api(undefined).get(url).set('authorization', `Bearer ${token}`);

async function at<T>(instant: string, work: () => Promise<T>): Promise<T> {
  t.clock.set(instant);
  try {
    return await work();
  } finally {
    t.clock.set(TEST_NOW);
  }
}

test('a token works until its instant and is unknown from it on, at the gate as well', async () => {
  const entry = await createTestEntry(t, event);
  const { body } = await mintStaff({ role: 'marshal', holder: 'Gate tablet', expiresAt: '2026-06-14T18:00:00+02:00' });
  expect(body.expiresAt).toBe('2026-06-14T16:00:00.000Z');
  const urls = [`/v1/events/${event.eventId}/gate/${entry.carNumber}`, `/v1/events/${event.eventId}/gate`];
  for (const url of urls) {
    expect((await at('2026-06-14T15:59:59.999Z', () => as(body.token, url))).status).toBe(200);
    const after = await at('2026-06-14T16:00:00.000Z', () => as(body.token, url));
    expect(after.status).toBe(401);
    expect(after.body.code).toBe('unauthenticated');
    expect(after.body.admit).not.toBe(true);
  }
});

test('the list says what is live, expired and revoked', async () => {
  const staff = await t.mint('inspector', { holder: 'No end' });
  const ended = (await mintStaff({ role: 'inspector', holder: 'Ends', expiresAt: '2026-06-11T00:00:00Z' })).body;
  const revoked = (await mintStaff({ role: 'inspector', holder: 'Gone', expiresAt: '2026-06-11T00:00:00Z' })).body;
  await t.api('organizer').delete(`/v1/tokens/${revoked.tokenId}`).expect(204);
  const { body } = await at('2026-06-12T00:00:00Z', () => t.api('organizer').get('/v1/tokens?limit=200'));
  const rowOf = (id: string) => body.tokens.find((row: { tokenId: string }) => row.tokenId === id);
  expect(rowOf(staff.tokenId)).toMatchObject({ state: 'live', revoked: false });
  expect(rowOf(staff.tokenId)).not.toHaveProperty('expiresAt');
  expect(rowOf(ended.tokenId)).toMatchObject({
    state: 'expired',
    revoked: false,
    expiresAt: '2026-06-11T00:00:00.000Z',
  });
  expect(rowOf(revoked.tokenId)).toMatchObject({ state: 'revoked', revoked: true });
});

test('a token of an entrant ends seven days after the event at the venue, and moves with it', async () => {
  const own = await createTestEvent(t);
  const { entryId } = await createTestEntry(t, own);
  const minted = (await mint({ role: 'entrant', holder: 'Ottla Brandt', entryId })).body;
  const chosen = (await mint({ role: 'entrant', holder: 'Ottla Brandt', entryId, expiresAt: '2026-06-20T00:00:00Z' }))
    .body;
  // 14 June is the last day; the end of 21 June in Berlin, two hours ahead of UTC in summer.
  expect(minted.expiresAt).toBe('2026-06-21T22:00:00.000Z');
  expect(chosen.expiresAt).toBe('2026-06-20T00:00:00.000Z');
  const url = `/v1/events/${own.eventId}`;
  const { headers } = await t.api('organizer').get(url);
  const moved = { startsOn: '2026-07-11', endsOn: '2026-07-12' };
  await t
    .api('organizer')
    .patch(url)
    .set('if-match', headers['etag'] ?? '')
    .send(moved)
    .expect(200);
  const endOf = async (id: string) =>
    (await t.deps.db.prisma.token.findUniqueOrThrow({ where: { id } })).expiresAt?.toISOString();
  expect(await endOf(minted.tokenId)).toBe('2026-07-19T22:00:00.000Z');
  expect(await endOf(chosen.tokenId)).toBe('2026-06-20T00:00:00.000Z');
});

test('one that is asked for after the event works for a week', async () => {
  const { entryId } = await createTestEntry(t, event);
  const { body } = await at('2026-08-01T00:00:00Z', () => mint({ role: 'entrant', holder: 'Ottla Brandt', entryId }));
  expect(body.expiresAt).toBe('2026-08-08T00:00:00.000Z');
});

test('refuses an end that is over, and what is no instant', async () => {
  const past = await mintStaff({ role: 'marshal', holder: 'A', expiresAt: TEST_NOW });
  expect(past.status).toBe(422);
  expect(past.body.errors).toMatchObject([{ pointer: '/expiresAt', code: 'past' }]);
  expect((await mintStaff({ role: 'marshal', holder: 'A', expiresAt: '2026-07-01' })).status).toBe(400);
});

test('the last organizer token without an end cannot be revoked, although one with an end works', async () => {
  const own = await startTestApp({ own: true });
  try {
    const ending = await own
      .api('organizer')
      .post('/v1/tokens')
      .send({ role: 'organizer', holder: 'Helper', expiresAt: '2026-06-30T00:00:00Z' });
    const lasting = await own.deps.db.prisma.token.findFirstOrThrow({
      where: { role: 'organizer', expiresAt: null },
    });
    const refused = await own
      .api(undefined)
      .delete(`/v1/tokens/${lasting.id}`)
      .set('authorization', `Bearer ${ending.body.token}`);
    expect(refused.status).toBe(409);
    expect(refused.body.code).toBe('last-organizer-token');
    await own.api('organizer').delete(`/v1/tokens/${ending.body.tokenId}`).expect(204);
    // With none left that lasts, the next start makes one.
    await own.deps.db.prisma.token.update({ where: { id: lasting.id }, data: { expiresAt: new Date('2026-06-30') } });
    expect(await ensureOrganizerToken(own.deps.db.prisma, () => undefined)).toMatch(/^gw_/);
  } finally {
    await own.close();
  }
});
