import { createHash } from 'node:crypto';
import canonicalizeModule from 'canonicalize';
import { compactVerify, createLocalJWKSet } from 'jose';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { isConsistent, isIncluded } from '../../src/platform/merkle-tree.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent, submit, type TestEntry, type TestEvent } from '../support/event.ts';
import { historyOf, sql } from '../support/records.ts';
import { sealed, sealedSize, signed } from '../support/sealed.ts';

const canonicalize = canonicalizeModule as unknown as (value: unknown) => string;
const sha256 = (...parts: (string | Uint8Array)[]) => {
  const hash = createHash('sha256');
  for (const part of parts) hash.update(part);
  return hash.digest();
};
const bytes = (hex: string) => Buffer.from(hex, 'hex');

let t: TestApp;
let event: TestEvent;
let entry: TestEntry;

beforeAll(async () => {
  t = await startTestApp();
  event = await createTestEvent(t);
  entry = await createTestEntry(t, event);
  await accept(t, event, entry);
  for (let i = 0; i < 3; i += 1) await submit(t, await createTestEntry(t, event));
});
afterAll(() => t.close());

const get = (query: string, as: 'chief' | 'inspector' = 'chief', of = event) =>
  t.api(as).get(`/v1/events/${of.eventId}/audit/${query}`);
const historyKeys = async () => (await t.api(undefined).get('/.well-known/history-keys.json').expect(200)).body;

interface Proved {
  eventId: string;
  content: object;
  hash: string;
  leafHash: string;
  index: number;
  proof: string[];
  head: { size: number; root: string; at: string; kid: string; jws: string };
}

/** What somebody does who has the answer and the keys, and no server. */
async function check({ content, hash, leafHash, index, proof: path, head, eventId }: Proved, keys: unknown) {
  expect(sha256(canonicalize(content)).toString('hex')).toBe(hash);
  expect(sha256(Buffer.of(0), bytes(hash)).toString('hex')).toBe(leafHash);
  const step = { leaf: bytes(leafHash), index, path: path.map(bytes) };
  expect(isIncluded(step, { size: head.size, root: bytes(head.root) })).toBe(true);
  const { payload, protectedHeader } = await compactVerify(head.jws, createLocalJWKSet(keys as never));
  expect(protectedHeader).toEqual({ alg: 'ES256', kid: head.kid, typ: 'gridworthy-head+jwt' });
  const { size, root, at } = head;
  expect(JSON.parse(Buffer.from(payload).toString())).toEqual({ iss: 'gridworthy', eventId, size, root, at });
}

describe('a proof', () => {
  test('of a sign-off is checked without the server', async () => {
    const signOff = await t.deps.db.prisma.signOff.findFirstOrThrow();
    await sealed(t);
    const { body } = await get(`proofs?signOffId=${signOff.id}`).expect(200);
    expect(body.content).toMatchObject({ entryId: entry.entryId, action: 'entry.signed-off' });
    expect(body.head.size).toBeGreaterThan(body.index);
    await check(body, await historyKeys());
  });

  test('is there for every row, by its id, and is no proof of another', async () => {
    await sealed(t);
    const rows = await historyOf(t, entry.entryId);
    for (const { id } of rows) await check((await get(`proofs?historyId=${id}`).expect(200)).body, await historyKeys());
    const [one, other] = await Promise.all(rows.slice(0, 2).map(({ id }) => get(`proofs?historyId=${id}`)));
    await expect(check({ ...one?.body, proof: other?.body.proof }, await historyKeys())).rejects.toThrow();
    await expect(check({ ...one?.body, index: other?.body.index }, await historyKeys())).rejects.toThrow();
  });

  test('of a row that waits to be sealed is to be asked for again, of an unknown one not found', async () => {
    const [row] = await historyOf(t, entry.entryId);
    const other = await createTestEvent(t);
    expect((await get(`proofs?historyId=${row?.id}`, 'chief', other)).status).toBe(404);
    expect((await get('proofs?historyId=019ab8f0-0000-7000-8000-00000000dead')).status).toBe(404);
    expect((await get('proofs')).status).toBe(400);
    expect((await get(`proofs?historyId=${row?.id}&signOffId=${row?.id}`)).status).toBe(400);
    expect((await get(`proofs?historyId=${row?.id}`, 'inspector')).status).toBe(403);
    const size = await sealedSize(t, event);
    const early = await get(`consistency?first=1&second=${size + 1}`);
    expect([early.status, early.body.code, early.headers['retry-after']]).toEqual([409, 'not-sealed', '1']);
  });
});

test('of two heads shows that the later one begins with the earlier', async () => {
  await signed(t);
  const { body: then } = await t.api('chief').get(`/v1/events/${event.eventId}/audit`);
  await submit(t, entry);
  await signed(t);
  const { body: now } = await t.api('chief').get(`/v1/events/${event.eventId}/audit`);
  const { body } = await get(`consistency?first=${then.head.seq}`).expect(200);
  expect(body.first).toEqual({ size: then.signedHead.size, root: then.head.hash });
  expect(body.second).toEqual({ size: now.signedHead.size, root: now.head.hash });
  const head = ({ size, root }: { size: number; root: string }) => ({ size, root: bytes(root) });
  expect(isConsistent(head(body.first), head(body.second), body.proof.map(bytes))).toBe(true);
  expect(isConsistent({ ...head(body.first), root: sha256('x') }, head(body.second), body.proof.map(bytes))).toBe(
    false,
  );
});

describe('the keys of heads', () => {
  test('stay when the key is rotated and its time for gate lists is over; the gate does not get them', async () => {
    await signed(t);
    const signOff = await t.deps.db.prisma.signOff.findFirstOrThrow();
    const { body: proof } = await get(`proofs?signOffId=${signOff.id}`).expect(200);
    const before = t.clock.now();
    await t.api('organizer').post('/v1/signing-keys/rotate').send({}).expect(200);
    t.clock.advance(8 * 86_400_000);
    try {
      const gateKeys = (await t.api(undefined).get('/.well-known/jwks.json').expect(200)).body;
      expect(gateKeys.keys.map(({ kid }: { kid: string }) => kid)).not.toContain(proof.head.kid);
      const keys = await historyKeys();
      await check(proof, keys);
      expect(keys.keys[0]).not.toHaveProperty('d');
      const [row] = await sql<{ private_jwk: object }>(t, 'SELECT private_jwk FROM signing_keys WHERE kid = $1', [
        proof.head.kid,
      ]);
      expect(row?.private_jwk).toEqual({});
    } finally {
      t.clock.set(before.toISOString());
    }
  });
});
