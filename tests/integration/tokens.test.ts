import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { z } from 'zod';
import { ensureOrganizerToken, storeConfiguredToken } from '../../src/features/access/bootstrap.ts';
import { hashToken } from '../../src/http/access/auth.ts';
import { type CursorScope, decodeCursor, encodeCursor } from '../../src/http/frame/cursor.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { createTestEvent } from '../support/event.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';

let t: TestApp;
let eventIds: string[];

beforeAll(async () => {
  t = await startTestApp();
  eventIds = [(await createTestEvent(t)).eventId];
});
afterAll(() => t.close());

const mint = (body: object) => t.api('organizer').post('/v1/tokens').send(body);
const asBearer = (token: string) => t.api(undefined).get('/v1/tokens').set('authorization', `Bearer ${token}`);

describe('minting', () => {
  test('answers with the token once and stores its hash only', async () => {
    const response = await mint({ role: 'inspector', holder: '  Ines Várga ', personId: 'ARC-1150', eventIds });
    expect(response.status).toBe(201);
    expect(response.body).toEqual({
      tokenId: expect.any(String),
      token: expect.stringMatching(/^gw_[\w-]{43}$/),
      role: 'inspector',
      holder: 'Ines Várga',
      personId: 'ARC-1150',
      createdAt: expect.any(String),
      // 14 June is the last day of the event, two hours ahead of UTC.
      events: [{ eventId: eventIds[0], name: expect.any(String), endsAt: '2026-06-15T22:00:00.000Z' }],
      endsAt: '2026-06-15T22:00:00.000Z',
    });
    const row = await t.deps.db.prisma.token.findUniqueOrThrow({ where: { id: response.body.tokenId } });
    expect(Buffer.from(row.hash)).toEqual(hashToken(response.body.token));
    expect(row.holderKey).toBe('ines várga');
    const { tokens } = (await t.api('organizer').get('/v1/tokens?limit=200')).body;
    expect(tokens.find((token: { tokenId: string }) => token.tokenId === row.id)).toMatchObject({
      personId: 'ARC-1150',
    });
    const own = t.api(undefined).get('/v1/own-token').set('authorization', `Bearer ${response.body.token}`);
    expect((await own).body).toMatchObject({ personId: 'ARC-1150' });
    expect(JSON.stringify(row)).not.toContain(response.body.token);
  });

  test('the token works at once, with its role', async () => {
    const organizer = await mint({ role: 'organizer', holder: 'Second organizer' });
    expect((await asBearer(organizer.body.token)).status).toBe(200);
    const marshal = await mint({ role: 'marshal', holder: 'Gate tablet', eventIds });
    expect((await asBearer(marshal.body.token)).status).toBe(403);
  });

  test.each([
    ['an entrant token without an entry', { role: 'entrant', holder: 'A' }, '/entryId'],
    ['an entry on a staff token', { role: 'marshal', holder: 'A', entryId: UNKNOWN }, '/entryId'],
    ['an id on an entrant token', { role: 'entrant', holder: 'A', entryId: UNKNOWN, personId: 'A-1' }, '/personId'],
    ['an id of other signs', { role: 'organizer', holder: 'A', personId: 'A 1' }, '/personId'],
    ['an unknown role', { role: 'admin', holder: 'A' }, '/role'],
    ['an empty holder', { role: 'marshal', holder: ' ' }, '/holder'],
    ['an overlong holder', { role: 'marshal', holder: 'x'.repeat(81) }, '/holder'],
    ['an unknown key', { role: 'marshal', holder: 'A', admin: true }, '/admin'],
  ])('refuses %s with 400 and its place', async (_what, body, pointer) => {
    const response = await mint(body);
    expect(response.status).toBe(400);
    expect(response.body.code).toBe('invalid-request');
    expect(response.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
  });

  test('refuses an entry that does not exist with 422', async () => {
    const response = await mint({ role: 'entrant', holder: 'A', entryId: UNKNOWN });
    expect(response.status).toBe(422);
    expect(response.body).toMatchObject({ code: 'not-acceptable', errors: [{ pointer: '/entryId' }] });
  });

  test('is for organizers', async () => {
    for (const role of ['chief', 'inspector', 'marshal'] as const) {
      expect((await t.api(role).post('/v1/tokens').send({ role: 'marshal', holder: 'A' })).status).toBe(403);
    }
    expect((await t.api(undefined).post('/v1/tokens').send({ role: 'marshal', holder: 'A' })).status).toBe(401);
  });
});

describe('listing', () => {
  test('walks every token once, newest last, and never shows a token', async () => {
    for (let i = 0; i < 7; i += 1) await mint({ role: 'marshal', holder: `Walk ${i}`, eventIds });
    const seen: string[] = [];
    let url: string | undefined = '/v1/tokens?limit=3';
    while (url !== undefined) {
      const page: {
        status: number;
        text: string;
        body: { tokens: { tokenId: string; holder: string }[]; next?: string };
        headers: Record<string, string>;
      } = await t.api('organizer').get(url);
      expect(page.status).toBe(200);
      expect(page.text).not.toContain('gw_');
      seen.push(...page.body.tokens.map((token) => token.tokenId));
      const link = /^<([^>]+)>; rel="next"$/.exec(page.headers['link'] ?? '')?.[1];
      expect(link === undefined).toBe(page.body.next === undefined);
      url = link;
    }
    expect(new Set(seen).size).toBe(seen.length);
    expect(seen.length).toBe(await t.deps.db.prisma.token.count());
  });

  test('refuses a changed cursor', async () => {
    const first = await t.api('organizer').get('/v1/tokens?limit=1');
    const next: string = first.body.next;
    const changed = `${next.startsWith('A') ? 'B' : 'A'}${next.slice(1)}`;
    for (const cursor of [changed, 'x', `${next}.x`, `${next}A`]) {
      const response = await t.api('organizer').get('/v1/tokens').query({ cursor });
      expect(response.status).toBe(400);
      expect(response.body.code).toBe('cursor-not-valid');
    }
  });

  test('a cursor belongs to its list and filters, whatever their order', () => {
    const scope = (filters: CursorScope['filters'], list = 'listThings'): CursorScope => ({ list, filters });
    const Position = z.tuple([z.string(), z.number()]);
    const cursor = encodeCursor(scope({ eventId: 'e1', carNumber: '07' }), ['07', 3]);
    expect(decodeCursor(scope({ carNumber: '07', eventId: 'e1' }), cursor, Position)).toEqual(['07', 3]);
    expect(decodeCursor(scope({}), undefined, Position)).toBeUndefined();
    for (const other of [
      scope({ eventId: 'e1', carNumber: '7' }),
      scope({ eventId: 'e1' }),
      scope({ eventId: 'e1', carNumber: '07' }, 'listOthers'),
    ]) {
      expect(() => decodeCursor(other, cursor, Position)).toThrow(/first page/);
    }
    expect(() => decodeCursor(scope({ eventId: 'e1', carNumber: '07' }), cursor, z.tuple([z.string()]))).toThrow();
  });

  test('a cursor of tokens does not fit events', async () => {
    const { next } = (await t.api('organizer').get('/v1/tokens?limit=1')).body;
    const response = await t.api('organizer').get('/v1/events').query({ cursor: next });
    expect(response.status).toBe(400);
    expect(response.body.code).toBe('cursor-not-valid');
  });

  test('refuses page sizes outside 1 to 200 and unknown parameters', async () => {
    for (const query of ['limit=0', 'limit=201', 'limit=x', 'page=2']) {
      expect((await t.api('organizer').get(`/v1/tokens?${query}`)).status).toBe(400);
    }
  });
});

describe('revoking', () => {
  test('stops the token at once; twice is the same as once', async () => {
    const { body } = await mint({ role: 'organizer', holder: 'Leaver' });
    expect((await t.api('organizer').delete(`/v1/tokens/${body.tokenId}`)).status).toBe(204);
    expect((await asBearer(body.token)).status).toBe(401);
    const first = await t.deps.db.prisma.token.findUniqueOrThrow({ where: { id: body.tokenId } });
    t.clock.advance(60_000);
    expect((await t.api('organizer').delete(`/v1/tokens/${body.tokenId}`)).status).toBe(204);
    const again = await t.deps.db.prisma.token.findUniqueOrThrow({ where: { id: body.tokenId } });
    expect(again.revokedAt).toEqual(first.revokedAt);
  });

  test('answers 404 for an unknown token and 400 for what is no id', async () => {
    expect((await t.api('organizer').delete(`/v1/tokens/${UNKNOWN}`)).status).toBe(404);
    expect((await t.api('organizer').delete('/v1/tokens/7')).status).toBe(400);
  });

  test('refuses the last organizer token, also when all are revoked at once', async () => {
    const own = await startTestApp({ own: true });
    try {
      const others = await Promise.all([own.mint('organizer'), own.mint('organizer'), own.mint('organizer')]);
      const ids = (await own.deps.db.prisma.token.findMany({ where: { role: 'organizer' } })).map((row) => row.id);
      const codes = await Promise.all(
        ids.map(async (id, i) => (await own.api(others[i % 3]).delete(`/v1/tokens/${id}`)).status),
      );
      // A caller whose own token went first gets 401; nobody may take the last one away.
      expect(await own.deps.db.prisma.token.count({ where: { role: 'organizer', revokedAt: null } })).toBeGreaterThan(
        0,
      );
      expect(codes).toContain(204);
      const [last, ...rest] = await own.deps.db.prisma.token.findMany({
        where: { role: 'organizer', revokedAt: null },
      });
      const live = others.find((token) => token.tokenId === last?.id);
      for (const row of rest)
        await own.deps.db.prisma.token.update({ where: { id: row.id }, data: { revokedAt: new Date() } });
      const response = await own.api(live ?? 'organizer').delete(`/v1/tokens/${last?.id}`);
      expect(response.status).toBe(409);
      expect(response.body.code).toBe('last-organizer-token');
    } finally {
      await own.close();
    }
  });
});

describe('the first organizer token', () => {
  test('is made once when processes start at once, then never again', async () => {
    const own = await startTestApp({ own: true });
    try {
      const db = own.deps.db.prisma;
      await db.token.deleteMany({});
      const shown: string[] = [];
      const show = (token: string) => void shown.push(token);
      const made = await Promise.all([1, 2, 3, 4].map(() => ensureOrganizerToken(db, show)));
      expect(shown).toHaveLength(1);
      expect(made.filter((token) => token !== undefined)).toEqual(shown);
      const [token = ''] = shown;
      expect((await own.api(undefined).get('/v1/tokens').set('authorization', `Bearer ${token}`)).status).toBe(200);
      expect(await ensureOrganizerToken(db, show)).toBeUndefined();
      expect(await db.token.count()).toBe(1);
    } finally {
      await own.close();
    }
  });

  test('that cannot be shown is not kept: the next start makes another', async () => {
    const own = await startTestApp({ own: true });
    try {
      const db = own.deps.db.prisma;
      await db.token.deleteMany({});
      const deaf = () => {
        throw new Error('the output is closed');
      };
      await expect(ensureOrganizerToken(db, deaf)).rejects.toThrow('the output is closed');
      expect(await db.token.count()).toBe(0);
      expect(await ensureOrganizerToken(db, () => undefined)).toMatch(/^gw_/);
    } finally {
      await own.close();
    }
  });

  test('is the configured one, stored once by its hash, and stays revoked', async () => {
    const own = await startTestApp({ own: true });
    try {
      const db = own.deps.db.prisma;
      const token = 'configured-organizer-token-1';
      const before = await db.token.count();
      const started = await Promise.all([storeConfiguredToken(db, token), storeConfiguredToken(db, token)]);
      expect(started).toEqual(['works', 'works']);
      expect(await db.token.count()).toBe(before + 1);
      expect((await own.api(undefined).get('/v1/tokens').set('authorization', `Bearer ${token}`)).status).toBe(200);
      await db.token.update({ where: { hash: new Uint8Array(hashToken(token)) }, data: { revokedAt: new Date() } });
      expect(await storeConfiguredToken(db, token)).toBe('revoked');
      expect((await own.api(undefined).get('/v1/tokens').set('authorization', `Bearer ${token}`)).status).toBe(401);
    } finally {
      await own.close();
    }
  });
});
