import { NOTHING_WRONG } from '../../../src/domain/clearance/car-happenings.ts';
import { gzipSync } from 'node:zlib';
import { CompactSign, exportJWK, FlattenedSign, generateKeyPair, type JWK } from 'jose';
import { beforeAll, describe, expect, test } from 'vitest';
import { foldClearance } from '../../../src/domain/clearance/clearance.ts';
import { type GateSnapshot, SNAPSHOT_TYPE, toGateFacts } from '../../../src/domain/clearance/gate-snapshot.ts';
import { verifySnapshot } from '../../../src/web/gate/kept/snapshot.ts';
import { at } from '../../support/clearance-histories.ts';

const DAYS = { from: '2026-01-01T00:00:00.000Z', until: '2027-01-01T00:00:00.000Z' };

// What must be refused: RFC 8725 (JWT best current practices), sections 3.1, 3.2, 3.10 and 3.11, and the design.
type Key = Awaited<ReturnType<typeof generateKeyPair>>['privateKey'];

const now = new Date(at(10));
const expected = { eventId: 'e1', now };
const HEADER = { alg: 'ES256', kid: 'k1', typ: SNAPSHOT_TYPE };

const LIST: GateSnapshot = {
  iss: 'gridworthy',
  eventId: 'e1',
  name: 'Club day',
  asOf: at(9),
  staleAfter: at(20),
  seq: 40,
  head: 'ab',
  newestHold: { number: 3, carNumber: '7', reason: 'contact', at: at(8) },
  days: DAYS,
  runGroups: [{ runGroupId: 'g1', name: 'Novice' }],
  entries: [{ carNumber: '7', group: 0, facts: { holds: ['contact'] } }],
};

let key: Key;
let other: Key;
let jwks: { keys: JWK[] };

beforeAll(async () => {
  const own = await generateKeyPair('ES256', { extractable: true });
  key = own.privateKey;
  other = (await generateKeyPair('ES256')).privateKey;
  jwks = { keys: [{ ...(await exportJWK(own.publicKey)), kid: 'k1', alg: 'ES256', use: 'sig' }] };
});

const sign = (payload: unknown, by: Key | Uint8Array = key, header: Record<string, unknown> = HEADER) =>
  new CompactSign(new TextEncoder().encode(typeof payload === 'string' ? payload : JSON.stringify(payload)))
    .setProtectedHeader({ ...HEADER, ...header })
    .sign(by);
const encode = (value: unknown) => Buffer.from(JSON.stringify(value)).toString('base64url');

test('takes a list of its event that a pinned key signed', async () => {
  expect(await verifySnapshot(await sign(LIST), jwks, expected)).toEqual({ ok: true, kid: 'k1', snapshot: LIST });
});

describe('refuses', () => {
  test('any changed byte, wherever it is', async () => {
    const jws = await sign(LIST);
    const faults = new Set<string>();
    for (let place = 0; place < jws.length; place += 7) {
      const swapped = jws[place] === 'A' ? 'B' : 'A';
      const result = await verifySnapshot(jws.slice(0, place) + swapped + jws.slice(place + 1), jwks, expected);
      expect(result.ok, `at ${place}`).toBe(false);
      if (!result.ok) faults.add(result.fault);
    }
    expect(faults).toContain('bad-signature');
  });

  test('another payload under the old signature', async () => {
    const [header, , signature] = (await sign(LIST)).split('.');
    const forged = { ...LIST, entries: [{ carNumber: '7', group: 0, facts: {} }] };
    const result = await verifySnapshot(`${header}.${encode(forged)}.${signature}`, jwks, expected);
    expect(result).toMatchObject({ ok: false, fault: 'bad-signature' });
  });

  test('another key, under the known name and under its own', async () => {
    expect(await verifySnapshot(await sign(LIST, other), jwks, expected)).toMatchObject({ fault: 'bad-signature' });
    const named = await sign(LIST, other, { kid: 'k2' });
    expect(await verifySnapshot(named, jwks, expected)).toMatchObject({ fault: 'unknown-key' });
    expect(await verifySnapshot(await sign(LIST), { keys: [] }, expected)).toMatchObject({ fault: 'unknown-key' });
  });

  test('a key that it brings along', async () => {
    const stranger = await generateKeyPair('ES256', { extractable: true });
    const jwk = await exportJWK(stranger.publicKey);
    const jws = await sign(LIST, stranger.privateKey, { kid: 'k9', jwk });
    expect(await verifySnapshot(jws, jwks, expected)).toMatchObject({ fault: 'unknown-key' });
  });

  test('no algorithm, another one, and the public key used as a secret', async () => {
    const [, payload, signature] = (await sign(LIST)).split('.');
    for (const alg of ['none', 'None', 'ES384', 'RS256']) {
      for (const seal of ['', signature]) {
        const jws = `${encode({ ...HEADER, alg })}.${payload}.${seal}`;
        expect(await verifySnapshot(jws, jwks, expected)).toMatchObject({ ok: false, fault: 'not-a-list' });
      }
    }
    const secret = new TextEncoder().encode(JSON.stringify(jwks.keys[0]));
    const hmac = await sign(LIST, secret, { alg: 'HS256' });
    expect(await verifySnapshot(hmac, jwks, expected)).toMatchObject({ ok: false, fault: 'not-a-list' });
  });

  test('something else that the same key signed', async () => {
    for (const header of [{ typ: 'JWT' }, { typ: undefined }, { kid: undefined }]) {
      expect(await verifySnapshot(await sign(LIST, key, header), jwks, expected)).toMatchObject({
        fault: 'not-a-list',
      });
    }
    for (const payload of ['', 'no json', '[]', { ...LIST, more: 1 }]) {
      expect(await verifySnapshot(await sign(payload), jwks, expected)).toMatchObject({ fault: 'not-a-list' });
    }
  });

  test('a header member that must be understood and is not (RFC 7515, section 4.1.11)', async () => {
    const crit = await new FlattenedSign(new TextEncoder().encode(JSON.stringify(LIST)))
      .setProtectedHeader({ ...HEADER, crit: ['x'], x: 1 })
      .sign(key, { crit: { x: false } });
    const jws = `${crit.protected}.${crit.payload}.${crit.signature}`;
    expect(await verifySnapshot(jws, jwks, expected)).toMatchObject({ ok: false, fault: 'not-a-list' });
  });

  test.each(['', '.', '..', 'a.b.c', 'e30.e30.', '{}', 'x'.repeat(100_000)])('%j, without throwing', async (text) => {
    expect(await verifySnapshot(text.slice(0, 100_000), jwks, expected)).toMatchObject({ fault: 'not-a-list' });
  });

  test('a list of another event', async () => {
    const result = await verifySnapshot(await sign({ ...LIST, eventId: 'e2' }), jwks, expected);
    expect(result).toMatchObject({ ok: false, fault: 'other-event' });
    expect(result).not.toHaveProperty('snapshot');
  });

  test('an older list than the one that the device has; the same one again is fine', async () => {
    const jws = await sign(LIST);
    expect((await verifySnapshot(jws, jwks, { ...expected, newerThanSeq: 40 })).ok).toBe(true);
    expect(await verifySnapshot(jws, jwks, { ...expected, newerThanSeq: 41 })).toMatchObject({
      fault: 'older-list',
      detail: 'The list ends at row 40; this device already knows row 41.',
    });
  });

  test('a list at an instant outside of its life, and shows it all the same', async () => {
    const jws = await sign(LIST);
    for (const instant of [at(20), at(23), new Date(Date.parse(at(9)) - 1), Number.NaN]) {
      const result = await verifySnapshot(jws, jwks, { eventId: 'e1', now: new Date(instant) });
      expect(result).toMatchObject({ ok: false, fault: 'cannot-use-now', snapshot: { seq: 40 } });
    }
    expect((await verifySnapshot(jws, jwks, { eventId: 'e1', now: new Date(at(9)) })).ok).toBe(true);
  });
});

test('200 cars are under 40 kB as a list, and a few kB as they travel', async () => {
  const bar = { ruleId: 'pads', title: 'Brake pad friction material' };
  const declared = { type: 'declared', inspectionId: 'i', revision: 1, verdict: 'clean', bars: [] } as const;
  const accepted = {
    type: 'signed-off',
    signOffId: 's',
    decision: 'accept',
    stickerNumber: '17',
    validFrom: '2026-06-13T05:00:00.000Z',
    validUntil: '2026-06-14T22:00:00.000Z',
    bars: [],
    conditions: [],
  } as const;
  const conditions = [{ id: 'c', text: 'wheel nut torque after the first session', dueAt: at(12) }];
  const histories = [
    [declared, accepted],
    [declared, { ...accepted, decision: 'accept-with-conditions', conditions } as const],
    [declared, { ...accepted, bars: [{ ...bar, concededUntil: at(18), condition: 'measure again at noon' }] }],
    [declared, accepted, { type: 'held', holdId: 'h', reason: 'contact in session 2, left rear' } as const],
    [declared],
    [{ ...declared, bars: [bar, { ruleId: 'harness', title: 'Harness in date' }] }],
  ];
  // Of ten cars five are plainly clear; the others are one of each kind.
  const entries = Array.from({ length: 200 }, (_, car) => ({
    carNumber: String(car + 1),
    group: car % 4,
    facts: toGateFacts(foldClearance(histories[Math.max(0, (car % 10) - 4)] ?? []), NOTHING_WRONG),
  }));
  const runGroups = ['Novice', 'Intermediate', 'Advanced', 'Instructors'].map((name, place) => ({
    runGroupId: `019ab8f0-0000-7000-8000-0000000000c${place}`,
    name,
  }));
  const list = JSON.stringify({ ...LIST, runGroups, entries });
  const jws = await sign(list);
  const sizes = { list: list.length, listGzip: gzipSync(list).length, jws: jws.length, jwsGzip: gzipSync(jws).length };
  process.stdout.write(`200 cars, bytes: ${JSON.stringify(sizes)}\n`);
  expect((await verifySnapshot(jws, jwks, expected)).ok).toBe(true);
  expect(sizes.list).toBeLessThan(40_000);
  expect(sizes.jwsGzip).toBeLessThan(12_000);
});
