import { createHash } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { DRAFT_EXAMPLE, RULE_SET_EXAMPLE } from '../../src/features/rules/rule-set-schemas.ts';
import { startTestApp, TEST_NOW, type TestApp } from '../support/app.ts';

const UNKNOWN = '019ab8f0-0000-7000-8000-00000000dead';
const DOCUMENT = DRAFT_EXAMPLE.document;

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

const create = async (document?: object) =>
  (await t.api('organizer').post('/v1/rule-sets').send({ name: 'Club rules', document })).body.ruleSetId as string;
const put = (id: string, document: object, ifMatch: string) =>
  t.api('organizer').put(`/v1/rule-sets/${id}`).set('if-match', ifMatch).send({ name: 'Club rules', document });
const publish = (id: string, ifMatch: string, changelog = 'First') =>
  t.api('organizer').post(`/v1/rule-sets/${id}/publish`).set('if-match', ifMatch).send({ changelog });
/** The same rules with another limit: another content. */
const withLimit = (value: number) => ({
  ...DOCUMENT,
  parameters: { padThicknessMinimum: { ...DOCUMENT.parameters.padThicknessMinimum, value } },
});

describe('a draft', () => {
  test('is stored whatever its faults, and the answer names them', async () => {
    const made = await t
      .api('organizer')
      .post('/v1/rule-sets')
      .send({ name: 'Half done', document: { rules: 'later' } });
    expect(made.status).toBe(201);
    expect(made.headers['etag']).toBe('"1"');
    expect(made.headers['location']).toBe(`/v1/rule-sets/${made.body.ruleSetId}`);
    expect(made.body.document).toEqual({ rules: 'later' });
    expect(made.body.check.ok).toBe(false);
    const pointers = made.body.check.faults.map((fault: { pointer: string }) => fault.pointer);
    expect(pointers).toEqual(expect.arrayContaining(['/name', '/rules']));
    expect(made.body).not.toHaveProperty('latestVersion');
  });

  test('that is in order is checked as ok and read back as it was sent', async () => {
    const id = await create(DOCUMENT);
    const read = await t.api('organizer').get(`/v1/rule-sets/${id}`);
    expect(read.body.document).toEqual(DOCUMENT);
    expect(read.body.check).toEqual(RULE_SET_EXAMPLE.check);
    const checked = await t.api('organizer').post(`/v1/rule-sets/${id}/check`);
    expect(checked.status).toBe(200);
    expect(checked.body).toEqual(RULE_SET_EXAMPLE.check);
  });

  test('starts empty when no document is given', async () => {
    const read = await t.api('organizer').get(`/v1/rule-sets/${await create()}`);
    expect(read.body.document).toEqual({ name: 'Club rules', parameters: {}, rules: [], examples: [] });
  });

  test('is replaced from the version it starts from only', async () => {
    const id = await create(DOCUMENT);
    const blind = await t.api('organizer').put(`/v1/rule-sets/${id}`).send({ name: 'x', document: {} });
    expect(blind.status).toBe(428);
    const first = await put(id, withLimit(6), '"1"');
    expect(first.status).toBe(200);
    expect(first.headers['etag']).toBe('"2"');
    expect(first.body.document).toEqual(withLimit(6));
    const late = await put(id, withLimit(7), '"1"');
    expect(late.status).toBe(412);
    expect(late.headers['etag']).toBe('"2"');
  });

  test.each([
    ['a list', []],
    ['a text', 'rules'],
    ['half of a surrogate pair', { rules: [{ title: 'a\ud800' }] }],
    ['a key that cannot be stored', { 'a\ud800': 1 }],
  ])('is refused when it is %s', async (_what, document) => {
    const response = await t.api('organizer').post('/v1/rule-sets').send({ name: 'x', document });
    expect(response.status).toBe(400);
    expect(response.body.errors[0].pointer).toMatch(/^\/document/);
  });

  test('is refused with U+0000, which the database cannot store', async () => {
    for (const document of [{ name: 'a\u0000b' }, { 'a\u0000b': 1 }]) {
      expect((await t.api('organizer').post('/v1/rule-sets').send({ name: 'x', document })).status).toBe(400);
    }
  });

  test('is refused when a number would be lost or nesting could break the server', async () => {
    const send = (text: string) =>
      t.api('organizer').post('/v1/rule-sets').set('content-type', 'application/json').send(text);
    const number = await send('{"name":"x","document":{"parameters":{"a":{"value":1e999}}}}');
    expect(number.status).toBe(400);
    expect(number.body.errors[0].pointer).toBe('/document/parameters/a/value');
    const deep = await send(`{"name":"x","document":{"a":${'['.repeat(50_000)}${']'.repeat(50_000)}}}`);
    expect(deep.status).toBe(400);
    expect(deep.body.code).toBe('invalid-request');
  });

  test('is refused with keys that nobody knows', async () => {
    const response = await t.api('organizer').post('/v1/rule-sets').send({ name: 'x', documents: {} });
    expect(response.status).toBe(400);
    expect(response.body.errors).toMatchObject([{ pointer: '/documents', code: 'unknown-key' }]);
  });
});

describe('publishing', () => {
  test('numbers versions, keeps them and says who did it', async () => {
    const id = await create(DOCUMENT);
    const first = await publish(id, '"1"', 'First version');
    expect(first.status).toBe(201);
    expect(first.headers['location']).toBe(`/v1/rule-sets/${id}/versions/1`);
    expect(first.body).toEqual({
      ruleSetId: id,
      version: 1,
      contentHash: expect.stringMatching(/^[0-9a-f]{64}$/),
      publishedAt: TEST_NOW,
      publishedBy: 'Test organizer',
    });
    await put(id, withLimit(6), '"1"');
    expect((await publish(id, '"2"', 'Thicker pads')).body.version).toBe(2);
    const version = await t.api('inspector').get(`/v1/rule-sets/${id}/versions/1`);
    expect(version.body).toEqual({ ...first.body, changelog: 'First version', document: DOCUMENT });
    const list = await t.api('marshal').get(`/v1/rule-sets/${id}/versions`);
    expect(
      list.body.versions.map((row: { version: number; changelog: string }) => [row.version, row.changelog]),
    ).toEqual([
      [2, 'Thicker pads'],
      [1, 'First version'],
    ]);
    expect((await t.api('organizer').get(`/v1/rule-sets/${id}`)).body.latestVersion).toBe(2);
    const all = await t.api('organizer').get('/v1/rule-sets');
    const row = all.body.ruleSets.find((each: { ruleSetId: string }) => each.ruleSetId === id);
    expect(row).toMatchObject({ name: 'Club rules', latestVersion: 2 });
  });

  test('the content hash is SHA-256 over the canonical form', async () => {
    // RFC 8785, section 3.2.3: keys sorted by UTF-16 units, no white space; written out by hand here.
    const text =
      '{"examples":[],"name":"Hash","parameters":{},"rules":[{"basis":{"kind":"common-practice"},"effect":"advise",' +
      '"fix":"f","id":"a","items":["pad.thickness"],"message":"m","test":{"atLeast":{"value":5},"item":"pad.thickness",' +
      '"kind":"limit"},"title":"t"}]}';
    const id = await create(JSON.parse(text));
    const published = await publish(id, '"1"');
    expect(published.status).toBe(201);
    expect(published.body.contentHash).toBe(createHash('sha256').update(text).digest('hex'));
  });

  test('is refused with every fault when the draft is not in order', async () => {
    const [rule] = DOCUMENT.rules;
    const broken = {
      ...DOCUMENT,
      rules: [
        { ...rule, basis: undefined },
        { ...rule, id: 'other', items: ['pad.thicknes'] },
      ],
    };
    const id = await create(broken);
    const response = await publish(id, '"1"');
    expect(response.status).toBe(422);
    expect(response.body.code).toBe('rule-set-not-acceptable');
    const codes = response.body.errors.map((fault: { code: string }) => fault.code);
    expect(codes).toEqual(expect.arrayContaining(['missing-basis', 'unknown-item']));
    expect((await t.api('marshal').get(`/v1/rule-sets/${id}/versions`)).body.versions).toEqual([]);
    const check = await t.api('organizer').post(`/v1/rule-sets/${id}/check`);
    expect(check.body.faults).toEqual(response.body.errors);
  });

  test('needs the version of the draft', async () => {
    const id = await create(DOCUMENT);
    expect((await t.api('organizer').post(`/v1/rule-sets/${id}/publish`).send({ changelog: 'x' })).status).toBe(428);
    await put(id, withLimit(6), '"1"');
    const stale = await publish(id, '"1"');
    expect(stale.status).toBe(412);
    expect(stale.headers['etag']).toBe('"2"');
  });

  test('of the same content again makes no second version', async () => {
    const id = await create(DOCUMENT);
    await publish(id, '"1"');
    const again = await publish(id, '"1"');
    expect(again.status).toBe(409);
    expect(again.body).toMatchObject({ code: 'already-published', version: 1 });
  });

  test('by many at once makes one version', async () => {
    const id = await create(DOCUMENT);
    const answers = await Promise.all(Array.from({ length: 20 }, () => publish(id, '"1"')));
    const codes = answers.map((answer) => answer.status).toSorted((a, b) => a - b);
    expect(codes).toEqual([201, ...Array.from({ length: 19 }, () => 409)]);
  });

  test('while others edit leaves no gap, no double number and only what somebody saved', async () => {
    const id = await create(withLimit(1));
    const workers = Array.from({ length: 6 }, async (_, worker) => {
      for (let round = 0; round < 4; round += 1) {
        const { headers } = await t.api('organizer').get(`/v1/rule-sets/${id}`);
        const saved = await put(id, withLimit(worker * 10 + round + 2), headers['etag'] ?? '');
        const published = await publish(id, saved.headers['etag'] ?? '');
        expect([201, 409, 412]).toContain(published.status);
      }
    });
    await Promise.all(workers);
    const { body } = await t.api('marshal').get(`/v1/rule-sets/${id}/versions`);
    const numbers = body.versions.map((row: { version: number }) => row.version);
    expect(numbers).toEqual(Array.from({ length: numbers.length }, (_, i) => numbers.length - i));
    expect(numbers.length).toBeGreaterThan(0);
    const hashes = body.versions.map((row: { contentHash: string }) => row.contentHash);
    for (let i = 1; i < hashes.length; i += 1) expect(hashes[i]).not.toBe(hashes[i - 1]);
  });

  test('cannot be undone: the database refuses to change a version', async () => {
    const id = await create(DOCUMENT);
    await publish(id, '"1"');
    const change = t.deps.db.pool.query("UPDATE rule_set_versions SET changelog = 'x' WHERE rule_set_id = $1", [id]);
    await expect(change).rejects.toThrow(/append-only/);
  });
});

test('answers 404 for what does not exist', async () => {
  const id = await create(DOCUMENT);
  const api = t.api('organizer');
  expect((await api.get(`/v1/rule-sets/${UNKNOWN}`)).status).toBe(404);
  expect((await put(UNKNOWN, {}, '*')).status).toBe(404);
  expect((await publish(UNKNOWN, '*')).status).toBe(404);
  expect((await api.post(`/v1/rule-sets/${UNKNOWN}/check`)).status).toBe(404);
  expect((await api.get(`/v1/rule-sets/${UNKNOWN}/versions`)).status).toBe(404);
  expect((await api.get(`/v1/rule-sets/${id}/versions/1`)).status).toBe(404);
  for (const version of ['0', 'x', '1.5', '99999999999']) {
    expect((await api.get(`/v1/rule-sets/${id}/versions/${version}`)).status).toBe(400);
  }
});

test('drafts are for organizers; versions are for staff', async () => {
  const id = await create(DOCUMENT);
  for (const role of ['chief', 'inspector', 'marshal'] as const) {
    expect((await t.api(role).get('/v1/rule-sets')).status).toBe(403);
    expect((await t.api(role).get(`/v1/rule-sets/${id}`)).status).toBe(403);
    expect((await t.api(role).post('/v1/rule-sets').send({ name: 'x' })).status).toBe(403);
    expect((await t.api(role).post(`/v1/rule-sets/${id}/check`)).status).toBe(403);
    expect(
      (await t.api(role).post(`/v1/rule-sets/${id}/publish`).set('if-match', '*').send({ changelog: 'x' })).status,
    ).toBe(403);
    expect((await t.api(role).get(`/v1/rule-sets/${id}/versions`)).status).toBe(200);
  }
  expect((await t.api(undefined).get('/v1/rule-sets')).status).toBe(401);
});
