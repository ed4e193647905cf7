import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { hashToken } from '../../src/http/access/auth.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import { createTestEvent } from '../support/event.ts';

let t: TestApp;
let eventIds: string[];
let MARSHAL: { role: 'marshal'; holder: string; eventIds: string[] };

beforeAll(async () => {
  t = await startTestApp({ config: { publicUrl: 'https://tech.example.org' } });
  eventIds = [(await createTestEvent(t)).eventId];
  MARSHAL = { role: 'marshal', holder: 'Gate tablet 2', eventIds };
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const enrol = (body: object = MARSHAL, as: Parameters<TestApp['api']>[0] = 'organizer') =>
  t.api(as).post('/v1/enrolments').send(body);
const redeem = (code: unknown) => t.api(undefined).post('/v1/enrolments/redeem').send({ code });
const bearer = (token: string, path: string) => t.api(undefined).get(path).set('authorization', `Bearer ${token}`);

describe('a code', () => {
  test('of 128 random bits is shown once, beside a link that no server sees it in', async () => {
    const { body } = await enrol().expect(201);
    expect(body).toEqual({
      enrolmentId: expect.any(String),
      code: expect.stringMatching(/^[\w-]{22}$/),
      url: `https://tech.example.org/enrol#${body.code}`,
      role: 'marshal',
      holder: 'Gate tablet 2',
      eventIds,
      expiresAt: '2026-06-10T08:15:00.000Z',
    });
    expect(Buffer.from(body.code, 'base64url')).toHaveLength(16);
    const row = await t.deps.db.prisma.enrolment.findUniqueOrThrow({ where: { id: body.enrolmentId } });
    expect(Buffer.from(row.codeHash)).toEqual(hashToken(body.code));
    expect(JSON.stringify(row)).not.toContain(body.code);
  });

  test('becomes a token of that role and holder, which names who let it in', async () => {
    const maker = await t.mint('chief', { holder: 'Chief Ida' });
    const ines = { role: 'inspector', holder: 'Ines Várga', personId: 'ARC-1150', eventIds };
    const { body } = await enrol(ines, maker).expect(201);
    expect(body).toMatchObject(ines);
    const redeemed = await redeem(body.code).expect(201);
    expect(redeemed.body).toEqual({
      tokenId: expect.any(String),
      token: expect.stringMatching(/^gw_[\w-]{43}$/),
      ...ines,
    });
    expect(redeemed.headers['cache-control']).toBe('no-store');
    expect((await bearer(redeemed.body.token, '/v1/events')).status).toBe(200);
    expect((await bearer(redeemed.body.token, '/v1/tokens')).status).toBe(403);
    const row = await t.deps.db.prisma.token.findUniqueOrThrow({ where: { id: redeemed.body.tokenId } });
    // The folded name decides conflicts of interest, as for tokens that are minted.
    expect(row).toMatchObject({ holderKey: 'ines várga', personId: 'ARC-1150', createdBy: maker.tokenId });
    const { tokens } = (await t.api('organizer').get('/v1/tokens?limit=200')).body;
    const listed = tokens.find((token: { tokenId: string }) => token.tokenId === row.id);
    expect(listed).toMatchObject({ createdBy: maker.tokenId, state: 'live' });
  });

  test('works once, also for two devices at the same moment', async () => {
    const { body } = await enrol();
    const before = await t.deps.db.prisma.token.count();
    const answers = await Promise.all(Array.from({ length: 6 }, () => redeem(body.code)));
    expect(answers.map((answer) => answer.status).toSorted()).toEqual([201, 409, 409, 409, 409, 409]);
    const late = await redeem(body.code);
    expect(late.status).toBe(409);
    expect(late.body.code).toBe('enrolment-used');
    expect(late.text).not.toContain('gw_');
    expect(await t.deps.db.prisma.token.count()).toBe(before + 1);
  });

  test('ends at its very instant, after the minutes asked for', async () => {
    const { body } = await enrol({ ...MARSHAL, minutes: 2 });
    expect(body.expiresAt).toBe('2026-06-10T08:02:00.000Z');
    t.clock.set('2026-06-10T08:02:00.000Z');
    const late = await redeem(body.code);
    expect(late.status).toBe(410);
    expect(late.body.code).toBe('enrolment-expired');
    t.clock.set('2026-06-10T08:01:59.999Z');
    expect((await redeem(body.code)).status).toBe(201);
  });

  test('ends with the token that made it', async () => {
    const chief = await t.mint('chief');
    const { body } = await enrol(MARSHAL, chief);
    await t.api('organizer').delete(`/v1/tokens/${chief.tokenId}`).expect(204);
    const answer = await redeem(body.code);
    expect(answer.status).toBe(410);
    expect(answer.body.code).toBe('enrolment-expired');
  });

  test('is not used up by whoever only looks', async () => {
    const { body } = await enrol();
    for (const path of ['/v1/enrolments/redeem', `/v1/enrolments/redeem?code=${body.code}`]) {
      for (const method of ['get', 'head'] as const) {
        const answer = await t.api(undefined)[method](path);
        expect(answer.status).toBe(405);
        expect(answer.headers['allow']).toBe('POST');
      }
    }
    expect((await redeem(body.code)).status).toBe(201);
  });

  test('that nobody made is 401 and tells nothing', async () => {
    for (const code of ['x', 'A'.repeat(22), "' OR 1=1 --"]) {
      const answer = await redeem(code);
      expect(answer.status).toBe(401);
      expect(answer.body.code).toBe('unauthenticated');
      expect(answer.text).not.toContain(code.length > 1 ? code : 'gw_');
    }
  });
});

describe('who may enrol whom', () => {
  test.each([
    ['organizer', ['organizer', 'chief', 'inspector', 'marshal'], []],
    ['chief', ['inspector', 'marshal'], ['organizer', 'chief']],
    ['inspector', [], ['organizer', 'chief', 'inspector', 'marshal']],
    ['marshal', [], ['organizer', 'chief', 'inspector', 'marshal']],
  ] as const)('%s', async (as, may, mayNot) => {
    const body = (role: string) => ({ role, holder: 'A', ...(role === 'organizer' ? {} : { eventIds }) });
    for (const role of may) expect((await enrol(body(role), as)).status, role).toBe(201);
    for (const role of mayNot) expect((await enrol(body(role), as)).status, role).toBe(403);
  });

  test('nobody enrols entrants, nor without a token', async () => {
    const refused = await enrol({ role: 'entrant', holder: 'A' });
    expect(refused.status).toBe(400);
    expect(refused.body.errors[0]).toMatchObject({ pointer: '/role' });
    expect((await t.api(undefined).post('/v1/enrolments').send(MARSHAL)).status).toBe(401);
  });

  test.each([
    ['/holder', { holder: ' ' }],
    ['/holder', { holder: undefined }],
    ['/minutes', { minutes: 0 }],
    ['/minutes', { minutes: 1441 }],
    ['/minutes', { minutes: 1.5 }],
    ['/entryId', { entryId: 'x' }],
    ['/eventIds', { eventIds: [] }],
  ])('refuses a bad %s with its place', async (pointer, body) => {
    const answer = await enrol({ ...MARSHAL, ...body });
    expect(answer.status).toBe(400);
    expect(answer.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
  });
});

test('guessing codes is limited like calling without a valid token', async () => {
  const own = await startTestApp({ config: { rateLimitPerMinute: 200 } });
  try {
    const statuses: number[] = [];
    for (let guess = 0; guess < 25; guess += 1) {
      const answer = await own
        .api(undefined)
        .post('/v1/enrolments/redeem')
        .send({ code: `guess-${guess}` });
      statuses.push(answer.status);
      if (answer.status === 429) expect(Number(answer.headers['retry-after'])).toBeGreaterThan(0);
    }
    expect(statuses).toEqual([...Array.from({ length: 20 }, () => 401), ...Array.from({ length: 5 }, () => 429)]);
    const organizer = { role: 'organizer', holder: 'Second organizer' };
    const { body } = await own.api('organizer').post('/v1/enrolments').send(organizer).expect(201);
    const right = await own.api(undefined).post('/v1/enrolments/redeem').send({ code: body.code });
    // Who has the code is let in even from an address that others guess from.
    expect(right.status).toBe(201);
  } finally {
    await own.close();
  }
});
