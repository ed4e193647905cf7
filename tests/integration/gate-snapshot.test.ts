import { asText } from '../support/as-text.ts';
import { webcrypto } from 'node:crypto';
import { compactVerify, createLocalJWKSet, createRemoteJWKSet, decodeProtectedHeader } from 'jose';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { answerOffline } from '../../src/domain/clearance/gate-snapshot.ts';
import { verifySnapshot } from '../../src/web/gate/kept/snapshot.ts';
import { currentSigningKey } from '../../src/records/history/signing.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  gate,
  GOOD_ANSWERS,
  submit,
  type TestEvent,
} from '../support/event.ts';
import { sealed, sealedSize } from '../support/sealed.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const ON_THE_DAY = '2026-06-13T08:00:00.000Z';

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());
afterEach(() => t.clock.set(TEST_NOW));

const fetchList = async (event: TestEvent, etag?: string, as: Parameters<TestApp['api']>[0] = 'marshal') => {
  // What was written a moment ago would change the list once more when it is sealed.
  await sealed(t);
  const request = t.api(as).get(`/v1/events/${event.eventId}/gate/snapshot`).buffer(true).parse(asText);
  return etag === undefined ? request : request.set('if-none-match', etag);
};
const keySet = async () => (await t.api(undefined).get('/.well-known/jwks.json').expect(200)).body;
const payloadOf = (jws: string) => JSON.parse(Buffer.from(jws.split('.')[1] ?? '', 'base64url').toString('utf8'));
const verified = async (event: TestEvent, jws: string, jwks?: unknown) =>
  verifySnapshot(jws, (jwks ?? (await keySet())) as never, { eventId: event.eventId, now: t.clock.now() });
const post = (path: string, body: object) => t.api('organizer').post(path).send(body);

describe('the signed list', () => {
  test('verifies by the published keys with two implementations, and a changed one with neither', async () => {
    const event = await createTestEvent(t);
    await createTestEntry(t, event);
    const answer = await fetchList(event);
    expect(answer.status).toBe(200);
    expect(answer.headers['content-type']).toBe('application/jose');
    const jws = answer.body as string;
    const jwks = await keySet();
    expect(decodeProtectedHeader(jws)).toEqual({ alg: 'ES256', kid: jwks.keys[0].kid, typ: 'gridworthy-gate+jwt' });
    const [header = '', payload = '', signature = ''] = jws.split('.');
    const changed = { ...payloadOf(jws), staleAfter: '2027-01-01T00:00:00.000Z' };
    const forged = Buffer.from(JSON.stringify(changed)).toString('base64url');

    await compactVerify(jws, createLocalJWKSet(jwks));
    await expect(compactVerify(`${header}.${forged}.${signature}`, createLocalJWKSet(jwks))).rejects.toThrow();

    const { alg: _alg, use: _use, kid: _kid, ...jwk } = jwks.keys[0];
    const curve = { name: 'ECDSA', namedCurve: 'P-256' };
    const key = await webcrypto.subtle.importKey('jwk', jwk, curve, false, ['verify']);
    const verify = (text: string) =>
      webcrypto.subtle.verify(
        { name: 'ECDSA', hash: 'SHA-256' },
        key,
        Buffer.from(signature, 'base64url'),
        new TextEncoder().encode(text),
      );
    expect(await verify(`${header}.${payload}`)).toBe(true);
    expect(await verify(`${header}.${forged}`)).toBe(false);
  });

  test('says of every car what the gate says, then and later, and never a yes that the gate would not give', async () => {
    const event = await createTestEvent(t);
    const clear = await createTestEntry(t, event);
    await accept(t, event, clear);
    const conditional = await createTestEntry(t, event);
    const conditions = [{ text: 'torque', dueAt: '2026-06-13T10:00:00.000Z' }];
    await accept(t, event, conditional, { decision: 'accept-with-conditions', conditions });
    const barred = await createTestEntry(t, event);
    await submit(t, barred, { ...GOOD_ANSWERS, 'brake.pedal': 'long' });
    const waiting = await createTestEntry(t, event);
    await submit(t, waiting);
    const held = await createTestEntry(t, event);
    await accept(t, event, held);
    await post(`/v1/entries/${held.entryId}/holds`, { reason: 'leak' }).expect(201);
    await createTestEntry(t, event, { carNumber: clear.carNumber, runGroupId: event.advanced, vehicle: undefined });
    const declined = await createTestEntry(t, event);
    await post(`/v1/entries/${declined.entryId}/withdraw`, {}).expect(200);

    t.clock.set(ON_THE_DAY);
    const result = await verified(event, (await fetchList(event)).body);
    if (!result.ok) throw new Error(result.detail);
    const numbers = [clear, conditional, barred, waiting, held, declined].map(({ carNumber }) => carNumber);
    const yes = new Set<string>();
    for (const instant of [ON_THE_DAY, '2026-06-13T09:59:59.999Z', '2026-06-13T10:00:00.000Z']) {
      t.clock.set(instant);
      for (const carNumber of [...numbers, 'Q']) {
        const online = await gate(t, event, carNumber);
        const offline = answerOffline(result.snapshot, carNumber, t.clock.now());
        expect(offline, carNumber).toMatchObject({ admit: online.admit, status: online.status });
        if (carNumber !== 'Q') expect(offline.reason).toBe(online.reason);
        if (offline.admit) yes.add(`${carNumber} ${instant}`);
      }
    }
    // Only the car with a condition goes on its number, until the condition is due.
    expect([...yes]).toEqual([ON_THE_DAY, '2026-06-13T09:59:59.999Z'].map((at) => `${conditional.carNumber} ${at}`));
    expect(answerOffline(result.snapshot, clear.carNumber, t.clock.now(), event.novice).admit).toBe(true);
  });

  test('ends at the head of the history, names the newest hold by number, and no person', async () => {
    const event = await createTestEvent(t);
    const before = payloadOf((await fetchList(event)).body);
    expect(before).toMatchObject({ iss: 'gridworthy', newestHold: null, entries: [] });
    expect(before.seq).toBeLessThanOrEqual(await sealedSize(t, event));
    const entry = await createTestEntry(t, event, { entrant: { name: 'Quirin Beispiel' } });
    await accept(t, event, entry, { stickerNumber: 'STICK-9' });
    t.clock.set(ON_THE_DAY);
    const first = await post(`/v1/entries/${entry.entryId}/holds`, { reason: 'leak' });
    await post(`/v1/holds/${first.body.holdId}/lift`, { reason: 'wiped' }).expect(200);
    t.clock.advance(1000);
    await post(`/v1/entries/${entry.entryId}/holds`, { reason: 'noise' }).expect(201);
    const list = payloadOf((await fetchList(event)).body);
    const audit = await t.api('organizer').get(`/v1/events/${event.eventId}/audit`);
    expect({ seq: list.seq, hash: list.head }).toEqual(audit.body.head);
    expect(list.newestHold).toEqual({
      number: 2,
      carNumber: entry.carNumber,
      reason: 'noise',
      at: '2026-06-13T08:00:01.000Z',
    });
    const text = JSON.stringify(list);
    for (const secret of ['Quirin', 'Test organizer', entry.entryId]) expect(text).not.toContain(secret);
    // A sticker is named only when it counts no more.
    expect(list.entries[0].facts.car.voidStickers).toEqual(['STICK-9']);
  });

  test('can be used for the configured hours, and never past the last day at the venue', async () => {
    const event = await createTestEvent(t);
    const life = async () => {
      const { asOf, staleAfter } = payloadOf((await fetchList(event)).body);
      return { asOf, staleAfter };
    };
    expect(await life()).toEqual({ asOf: TEST_NOW, staleAfter: '2026-06-10T20:00:00.000Z' });
    t.clock.set('2026-06-14T16:00:00.000Z');
    expect((await life()).staleAfter).toBe('2026-06-14T22:00:00.000Z');
    t.clock.set('2026-06-15T08:00:00.000Z');
    expect((await life()).staleAfter).toBe('2026-06-14T22:00:00.000Z');
    const result = await verified(event, (await fetchList(event)).body);
    expect(result).toMatchObject({ ok: false, fault: 'cannot-use-now' });
  });

  test('is 304 while nothing changed, new after a hold, a change of key, and a quarter of its life', async () => {
    const event = await createTestEvent(t);
    const entry = await createTestEntry(t, event);
    t.clock.set(ON_THE_DAY);
    const first = await fetchList(event);
    const etag = first.headers['etag'] ?? '';
    t.clock.advance(3 * 3_600_000 - 1);
    const same = await fetchList(event, `"other", ${etag}`);
    expect(same.status).toBe(304);
    expect(same.headers['etag']).toBe(etag);
    expect(same.headers['cache-control']).toBe('no-cache, private');
    t.clock.advance(1);
    const renewed = await fetchList(event, etag);
    expect(renewed.status).toBe(200);
    expect(payloadOf(renewed.body).asOf).toBe('2026-06-13T11:00:00.000Z');
    const renewedTag = renewed.headers['etag'] ?? '';
    expect((await fetchList(event, renewedTag)).status).toBe(304);
    await post(`/v1/entries/${entry.entryId}/holds`, { reason: 'leak' }).expect(201);
    const held = await fetchList(event, renewedTag);
    expect(held.status).toBe(200);
    await post('/v1/signing-keys/rotate', {}).expect(200);
    expect((await fetchList(event, held.headers['etag'])).status).toBe(200);
    for (const odd of ['*', '""', '"x.y"', `W/"${'0'.repeat(32)}.zzzzzzzzzz"`]) {
      expect((await fetchList(event, odd)).status, odd).toBe(200);
    }
  });

  test('has what rescuers must know only where that is asked for, so that older readers take it as before', async () => {
    const event = await createTestEvent(t);
    const battery = { description: 'Battery hatchback', powertrain: 'battery', gas: 'none', highVoltageV: 400 };
    const vehicle = { ...battery, disconnectAt: 'under the front lid' };
    const { carNumber } = await createTestEntry(t, event, { carNumber: '7E', vehicle });
    await createTestEntry(t, event, { vehicle: { description: 'Nobody said what drives it' } });
    const plain = await fetchList(event);
    expect(Object.keys(payloadOf(plain.body).entries[0]).sort()).toEqual(['carNumber', 'facts', 'group', 'vehicle']);
    const url = `/v1/events/${event.eventId}/gate/snapshot?with=rescue`;
    const asked = t
      .api('marshal')
      .get(url)
      .set('if-none-match', plain.headers['etag'] ?? '');
    const full = await asked.buffer(true).parse(asText);
    // One list is never taken for the other.
    expect(full.status).toBe(200);
    const result = await verified(event, full.body);
    if (!result.ok) throw new Error(result.detail);
    const said = { drive: 'battery', gas: 'none', volts: 400, disconnectAt: 'under the front lid' };
    expect(new Set(result.snapshot.entries.map(({ rescue }) => rescue))).toEqual(new Set([said, {}]));
    expect(answerOffline(result.snapshot, carNumber, t.clock.now()).entries[0]?.rescue).toEqual(said);
    expect(await gate(t, event, carNumber)).toMatchObject({ entries: [{ rescue: said }] });
    expect((await t.api('marshal').get(`${url}s`)).status).toBe(400);
  });

  test('travels as gzip where that is asked for', async () => {
    const event = await createTestEvent(t);
    for (let car = 0; car < 3; car += 1) await createTestEntry(t, event);
    const url = `/v1/events/${event.eventId}/gate/snapshot`;
    const sizes: Record<string, string | undefined> = {};
    for (const coding of ['gzip', 'identity', 'gzip;q=0', 'br, gzip;q=0.5']) {
      const answer = await t.api('marshal').get(url).set('accept-encoding', coding).buffer(true).parse(asText);
      sizes[coding] = answer.headers['content-encoding'];
      expect((await verified(event, answer.body)).ok, coding).toBe(true);
      expect(answer.headers['vary']).toBe('authorization, accept-encoding');
    }
    expect(sizes).toEqual({ gzip: 'gzip', identity: undefined, 'gzip;q=0': undefined, 'br, gzip;q=0.5': 'gzip' });
  });

  test('is for the staff, and of an unknown event a no', async () => {
    const event = await createTestEvent(t);
    const { entrant } = await createTestEntry(t, event);
    expect((await fetchList(event, undefined, entrant)).status).toBe(403);
    expect((await t.api(undefined).get(`/v1/events/${event.eventId}/gate/snapshot`)).status).toBe(401);
    const missing = await t.api('marshal').get(`/v1/events/${UNKNOWN}/gate/snapshot`);
    expect(missing.status).toBe(404);
    expect(missing.body).toMatchObject({ code: 'not-found', admit: false });
  });
});

describe('the keys', () => {
  test('one is made at first need, however many need it at once', async () => {
    const own = await startTestApp({ own: true });
    try {
      const { prisma } = own.deps.db;
      const made = await Promise.all(Array.from({ length: 8 }, () => currentSigningKey(prisma, own.clock.now())));
      expect(new Set(made.map(({ kid }) => kid)).size).toBe(1);
      expect(await prisma.signingKey.count()).toBe(1);
    } finally {
      await own.close();
    }
  });

  test('are public, as RFC 7517 has them, without the private part', async () => {
    const answer = await t.api(undefined).get('/.well-known/jwks.json').expect(200);
    expect(answer.headers['content-type']).toMatch(/^application\/jwk-set\+json/);
    expect(answer.headers['cache-control']).toBe('public, max-age=300');
    expect(answer.body.keys[0]).toEqual({
      kty: 'EC',
      crv: 'P-256',
      x: expect.stringMatching(/^[\w-]{43}$/),
      y: expect.stringMatching(/^[\w-]{43}$/),
      kid: expect.stringMatching(/^[\w-]{43}$/),
      alg: 'ES256',
      use: 'sig',
    });
    const port = (t.app.server.address() as { port: number }).port;
    const remote = createRemoteJWKSet(new URL(`http://127.0.0.1:${port}/.well-known/jwks.json`));
    const event = await createTestEvent(t);
    await compactVerify((await fetchList(event)).body, remote);
  });

  test('after a rotation the new one signs, and the old one verifies for seven days more', async () => {
    const event = await createTestEvent(t);
    const old = (await fetchList(event)).body as string;
    const pinned = await keySet();
    const rotated = await post('/v1/signing-keys/rotate', {}).expect(200);
    const fresh = (await fetchList(event)).body as string;
    const [oldKid, newKid] = [old, fresh].map((jws) => decodeProtectedHeader(jws).kid);
    expect(rotated.body.signs).toBe(newKid);
    expect(newKid).not.toBe(oldKid);
    const listed = rotated.body.keys.filter(({ kid }: { kid: string }) => kid === newKid || kid === oldKid);
    expect(listed).toEqual([
      { kid: newKid, createdAt: TEST_NOW },
      {
        kid: oldKid,
        createdAt: expect.any(String),
        retiredAt: TEST_NOW,
        publishedUntil: '2026-06-17T08:00:00.000Z',
      },
    ]);
    expect((await verified(event, old)).ok).toBe(true);
    expect((await verified(event, fresh)).ok).toBe(true);
    expect(await verified(event, fresh, pinned)).toMatchObject({ ok: false, fault: 'unknown-key' });
    const kids = async () => (await keySet()).keys.map((key: { kid: string }) => key.kid);
    t.clock.set('2026-06-17T07:59:59.999Z');
    expect(await kids()).toContain(oldKid);
    t.clock.set('2026-06-17T08:00:00.000Z');
    expect(await kids()).toContain(newKid);
    expect(await kids()).not.toContain(oldKid);
    const row = await t.deps.db.prisma.signingKey.findUniqueOrThrow({ where: { kid: oldKid ?? '' } });
    expect(row.privateJwk).toEqual({});
  });

  test('are rotated by organizers', async () => {
    for (const role of ['chief', 'inspector', 'marshal'] as const) {
      expect((await t.api(role).post('/v1/signing-keys/rotate')).status).toBe(403);
    }
  });
});
