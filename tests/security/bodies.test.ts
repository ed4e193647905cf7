import { randomUUID } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { createTestEntry, createTestEvent } from '../support/event.ts';
import { openTestShop } from '../support/shop.ts';
import { type Operation, readApi } from './api-model.ts';
import { FORMULAS, YAML_BOMBS } from './hostile-values.ts';

/** A small machine that does other things as well; what these bodies aim at takes minutes. */
const SOON_MS = 3000;
const MEGABYTE = 1024 * 1024;

let t: TestApp;
let operations: readonly Operation[];
let tokens: Record<string, TestToken>;

beforeAll(async () => {
  t = await startTestApp();
  operations = readApi(t.app).operations;
  const event = await createTestEvent(t);
  ({ ruleSetId } = event);
  const entry = await createTestEntry(t, event);
  tokens = { entrant: entry.entrant };
  const shop = await openTestShop(t, entry);
  tokens['shop'] = shop.token;
  ownShop = { shopId: shop.shopId, shopLinkId: shop.shopLinkId };
  for (const role of ['organizer', 'chief', 'inspector', 'marshal'] as const) tokens[role] = await t.mint(role);
  ownEntry = entry.entryId;
});
afterAll(() => t.close());

let ownEntry = '';
let ownShop: Record<string, string> = {};
let ruleSetId = '';
const NOBODYS = '019ab8f0-0000-7000-8000-00000000dead';

const named = ({ method, path }: Operation) => `${method} ${path}`;
const taking = (mediaType: string) => operations.filter(({ bodies }) => bodies.has(mediaType));

async function send(operation: Operation, payload: string | Buffer, headers: Record<string, string>) {
  const role = operation.roles?.[0];
  const own: Record<string, string> = {
    ruleSetId,
    ...(role === 'entrant' ? { entryId: ownEntry } : {}),
    ...(role === 'shop' ? ownShop : {}),
  };
  const url = operation.path.replaceAll(/\{(\w+)\}/g, (_whole, name: string) => own[name] ?? NOBODYS);
  const token = tokens[role ?? 'organizer']?.token;
  const start = performance.now();
  const answer = await t.app.inject({
    method: operation.method as 'POST',
    url,
    payload,
    headers: { 'if-match': '*', 'idempotency-key': randomUUID(), authorization: `Bearer ${token}`, ...headers },
  });
  expect(performance.now() - start, named(operation)).toBeLessThan(SOON_MS);
  expect(answer.statusCode, `${named(operation)} ${answer.body.slice(0, 300)}`).toBeLessThan(500);
  return answer;
}

describe('every operation with a body', () => {
  test('refuses 10 MB with 413, and soon', async () => {
    for (const operation of operations.filter(({ method }) => method !== 'GET')) {
      const [type = 'application/json'] = operation.bodies.keys();
      // Pictures and lists of entries may be larger than other bodies: see the limits in the configuration.
      const size = type === 'text/csv' || type.startsWith('image/') ? 40 : 10;
      const answer = await send(operation, Buffer.alloc(size * MEGABYTE, 'x'), { 'content-type': type });
      expect(answer.statusCode, named(operation)).toBe(413);
    }
  });

  test('refuses what is compressed with 415 (RFC 9110, section 8.4) and says what it takes', async () => {
    for (const operation of operations) {
      const [type] = operation.bodies.keys();
      if (type === undefined) continue;
      // A megabyte of zeros is a kilobyte of gzip: nothing must unpack it.
      for (const payload of [gzipSync('{}'), gzipSync(Buffer.alloc(MEGABYTE))]) {
        const answer = await send(operation, payload, { 'content-type': type, 'content-encoding': 'gzip' });
        expect(answer.statusCode, named(operation)).toBe(415);
        expect(answer.headers['accept-encoding']).toBe('identity');
      }
    }
  });

  test('refuses another charset with 415 and bytes that are not UTF-8 with 400 (RFC 8259, section 8.1)', async () => {
    const latin = Buffer.concat([Buffer.from('{"name":"M'), Buffer.from([0xfc]), Buffer.from('ller"}')]);
    for (const operation of taking('application/json')) {
      const utf16 = Buffer.from('{"name":"x"}', 'utf16le');
      const wide = await send(operation, utf16, { 'content-type': 'application/json; charset=utf-16' });
      expect(wide.statusCode, named(operation)).toBe(415);
      const other = await send(operation, latin, { 'content-type': 'application/json' });
      expect(other.statusCode, named(operation)).toBe(400);
      expect(other.json(), named(operation)).toMatchObject({ errors: [{ code: 'not-utf-8' }] });
    }
  });

  test('refuses lists and objects 2,000 deep with 400', async () => {
    const deep = ['['.repeat(2000) + ']'.repeat(2000), '{"a":'.repeat(2000) + '1' + '}'.repeat(2000)];
    for (const operation of taking('application/json')) {
      for (const payload of deep) {
        const answer = await send(operation, payload, { 'content-type': 'application/json' });
        expect(answer.statusCode, named(operation)).toBe(400);
      }
    }
  });
});

test('YAML that grows, refers to itself or asks for types is refused soon, wherever YAML is taken', async () => {
  expect(taking('application/yaml').length).toBeGreaterThan(2);
  for (const operation of taking('application/yaml')) {
    const laughs = await send(operation, YAML_BOMBS[0], { 'content-type': 'application/yaml' });
    const { code, faults } = laughs.json<{ code?: string; faults?: { code: string }[] }>();
    // Where the faults are the answer, this is one of them.
    if (laughs.statusCode === 200) expect(faults, named(operation)).toMatchObject([{ code: 'bad-yaml' }]);
    else expect([laughs.statusCode, code], named(operation)).toEqual([400, 'malformed-yaml']);
    for (const bomb of YAML_BOMBS) {
      const answer = await send(operation, bomb, { 'content-type': 'application/yaml' });
      const shown = `${named(operation)} ${JSON.stringify(bomb.slice(0, 60))} ${answer.body.slice(0, 200)}`;
      // Some are YAML and no rule set: a draft may be kept or checked with its faults, and has not grown.
      if (answer.statusCode < 300) {
        const { ok, check } = answer.json<{ ok?: boolean; check?: { ok: boolean } }>();
        expect(ok ?? check?.ok, shown).toBe(false);
        expect(answer.body.length).toBeLessThan(3 * bomb.length + 5000);
      } else expect([400, 404, 413], shown).toContain(answer.statusCode);
    }
  }
});

test('no cell of an export begins a formula, and what was written comes back (OWASP, CSV Injection)', async () => {
  const event = await createTestEvent(t);
  const names = FORMULAS.filter((text) => text.trim() === text && !/[\t\r]/.test(text));
  for (const [i, name] of names.entries()) {
    await createTestEntry(t, event, { carNumber: `F${i}`, entrant: { name }, vehicle: { description: name } });
  }
  const organizer = t.api('organizer');
  const { text } = await organizer.get(`/v1/events/${event.eventId}/entries/export`).expect(200);
  expect(text).not.toMatch(/(^|,|\n)"?[=+@\t]/);
  const again = await organizer
    .post(`/v1/events/${event.eventId}/entries/import`)
    .set('content-type', 'text/csv')
    .send(text)
    .expect(200);
  expect(again.body.unchanged ?? again.body.summary?.unchanged).toBe(names.length);
});
