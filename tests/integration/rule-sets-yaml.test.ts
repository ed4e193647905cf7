import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { DOCUMENT_EXAMPLE, DRAFT_EXAMPLE, YAML_EXAMPLE } from '../../src/features/rules/rule-set-schemas.ts';
import { RULE_SET_LIMIT_BYTES } from '../../src/features/rules/rule-set-routes.ts';
import { readYaml } from '../../src/http/yaml/yaml-read.ts';
import { startTestApp, type TestApp } from '../support/app.ts';

const EXAMPLE = readFileSync(new URL('../../seed/example-rule-set.yaml', import.meta.url), 'utf8');

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

const post = (path: string, text: string, type = 'application/yaml') =>
  t.api('organizer').post(`/v1/rule-sets${path}`).set('content-type', type).send(text);
const checkYaml = (text: string) =>
  t.api('organizer').post('/v1/rule-set-checks').set('content-type', 'application/yaml').send(text);
const put = (id: string, text: string, ifMatch: string) =>
  t
    .api('organizer')
    .put(`/v1/rule-sets/${id}`)
    .set('content-type', 'application/yaml')
    .set('if-match', ifMatch)
    .send(text);
const getYaml = (path: string) => t.api('organizer').get(`/v1/rule-sets/${path}`).set('accept', 'application/yaml');
const valueOf = (text: string): unknown => {
  const read = readYaml(text);
  if (!read.ok) throw new Error(JSON.stringify(read.faults));
  return read.value;
};

describe('a draft written as YAML', () => {
  test('is kept as it is written, comments and all, and is JSON to who asks for JSON', async () => {
    const made = await post('', YAML_EXAMPLE, 'application/yaml; charset=utf-8');
    expect(made.status).toBe(201);
    expect(made.body).toMatchObject({ name: 'Club rules', document: valueOf(YAML_EXAMPLE), check: { ok: true } });
    const { ruleSetId } = made.body;
    const text = await getYaml(ruleSetId);
    expect(text.status).toBe(200);
    expect(text.headers['content-type']).toBe('application/yaml');
    expect(text.headers['etag']).toBe('"1"');
    expect(text.headers['vary']).toContain('accept');
    expect(text.text).toBe(YAML_EXAMPLE);
    const json = await t.api('organizer').get(`/v1/rule-sets/${ruleSetId}`);
    expect(json.body.document).toEqual(valueOf(YAML_EXAMPLE));
    expect(json.body).not.toHaveProperty('text');
  });

  test('is replaced by YAML and by JSON; JSON comes back as YAML in a stable order', async () => {
    const { ruleSetId } = (await post('', YAML_EXAMPLE)).body;
    const changed = YAML_EXAMPLE.replace('# Rules for club days', '# Rules of next year').replace('Club rules', 'New');
    expect((await put(ruleSetId, changed, '"7"')).status).toBe(412);
    const second = await put(ruleSetId, changed, '"1"');
    expect(second.status).toBe(200);
    expect(second.body.name).toBe('New');
    expect((await getYaml(ruleSetId)).text).toBe(changed);
    await t.api('organizer').put(`/v1/rule-sets/${ruleSetId}`).set('if-match', '"2"').send(DRAFT_EXAMPLE);
    const written = (await getYaml(ruleSetId)).text;
    expect(valueOf(written)).toEqual(DOCUMENT_EXAMPLE);
    expect(written.split('\n').filter((line) => /^\w/.test(line))).toEqual([
      'name: Club rules',
      'parameters:',
      'alwaysLook:',
      'rules:',
      'examples: []',
    ]);
    const keys = written
      .replace(/^alwaysLook:\n( .*\n)*/m, '')
      .match(/^ {2}[- ] (\w+):/gm)
      ?.map((line) => line.replace(/[- :]/g, ''));
    const ofRule = ['id', 'title', 'items', 'test', 'effect', 'message', 'fix', 'basis'];
    expect(keys).toEqual(['value', 'unit', 'meaning', 'source', ...ofRule].filter((key) => keys?.includes(key)));
  });

  test('names line and column of each fault, and of the place inside an expression', async () => {
    const text = [
      'name: Faults',
      'parameters: { spare: { value: 1, meaning: Nobody uses it } }',
      'rules:',
      '  - id: pads',
      '    title: Pads',
      '    items: [pad.thickness]',
      '    each: wheel',
      '    test:',
      '      kind: expression',
      '      expr: |',
      '        pad.thickness["in"] >= q(4, "mm") &&',
      '          pad.thickness["out"] >= params.leest',
      '    effect: warn',
      '    message: m',
      '    fix: f',
      '  - id: lines',
      '    title: Lines',
      '    items: [brake.linez]',
      '    test: { kind: confirm, item: brake.linez }',
      '    effect: bar',
      '    message: m',
      '    fix: f',
      '    basis: { kind: common-practice }',
      'examples: []',
    ].join('\n');
    const placesOf = (faults: { pointer: string; code: string; place: { line: number; column: number } }[]) =>
      faults.map(({ pointer, code, place }) => `${place.line}:${place.column} ${pointer} ${code}`).toSorted();
    const made = await post('', text);
    expect(placesOf(made.body.check.faults)).toEqual([
      '13:13 /rules/0/effect bad-shape',
      '18:13 /rules/1/items/0 unknown-item',
      '19:34 /rules/1/test/item unknown-item',
      '2:15 /parameters/spare unused-parameter',
      '4:5 /rules/0/basis missing-basis',
    ]);
    const mended = text
      .replace('effect: warn', 'effect: bar')
      .replace('fix: f', 'fix: f\n    basis: { kind: common-practice }');
    const second = await put(made.body.ruleSetId, mended, '"1"');
    expect(placesOf(second.body.check.faults)[0]).toBe('12:35 /rules/0/test/expr unknown-parameter');
    const stored = await t.api('organizer').post(`/v1/rule-sets/${made.body.ruleSetId}/check`);
    expect(stored.body).toEqual(second.body.check);
    const publish = await t
      .api('organizer')
      .post(`/v1/rule-sets/${made.body.ruleSetId}/publish`)
      .set('if-match', '"2"')
      .send({ changelog: 'x' });
    expect(publish.status).toBe(422);
    expect(publish.body.errors).toEqual(second.body.check.faults);
  });

  test('that cannot be read is refused with line and column, and nothing is stored', async () => {
    const before = (await t.api('organizer').get('/v1/rule-sets')).body.ruleSets.length;
    const refused = await post('', 'name: x\nrules:\n  - [a\nexamples: []\n');
    expect(refused.status).toBe(400);
    expect(refused.body.code).toBe('malformed-yaml');
    expect(refused.body.detail).toMatch(/line \d, column \d/);
    expect(refused.body.errors[0]).toMatchObject({ code: 'bad-yaml', place: { line: expect.any(Number) } });
    expect((await t.api('organizer').get('/v1/rule-sets')).body.ruleSets.length).toBe(before);
  });

  test.each([
    ['a list', '- a\n', '', 'invalid-request'],
    ['nothing', '', '', 'invalid-request'],
    ['no name', 'rules: []\n', '/name', 'invalid-request'],
    ['a name of two lines', 'name: "a\\nb"\n', '/name', 'invalid-request'],
    ['U+0000 in a comment', 'name: a # \u0000\n', '', 'malformed-yaml'],
    ['equal keys', 'name: a\nname: b\n', '/name', 'malformed-yaml'],
    ['a tag', 'name: !!python/object a\n', '', 'malformed-yaml'],
  ])('is refused when it is or has %s', async (_what, text, pointer, code) => {
    const refused = await post('', text);
    expect(refused.status).toBe(400);
    expect(refused.body.code).toBe(code);
    expect(refused.body.errors[0].pointer).toBe(pointer);
  });

  test('is limited like JSON: size, media type, characters', async () => {
    const large = await post('', `name: x\n# ${'x'.repeat(RULE_SET_LIMIT_BYTES)}\n`);
    expect(large.status).toBe(413);
    expect((await post('', 'name: x', 'application/x-yaml')).status).toBe(415);
    expect((await post('', 'name: x', 'text/yaml')).status).toBe(415);
    expect((await post('', '{"name":"x"}', 'application/merge-patch+json')).status).toBe(415);
    expect((await post('', 'name: x', 'application/yaml; charset=latin1')).status).toBe(415);
    const wrong = t.app.inject({
      method: 'POST',
      url: '/v1/rule-set-checks',
      headers: { 'content-type': 'application/yaml', ...(await authorization()) },
      payload: Buffer.from([0x6e, 0x3a, 0x20, 0xff]),
    });
    expect((await wrong).json().errors[0].code).toBe('not-utf-8');
  });

  test('is published, and the version comes as JSON and as YAML in a stable order', async () => {
    const { ruleSetId } = (await post('', EXAMPLE)).body;
    const published = await t
      .api('organizer')
      .post(`/v1/rule-sets/${ruleSetId}/publish`)
      .set('if-match', '"1"')
      .send({ changelog: 'The example' });
    expect(published.status).toBe(201);
    const json = await t.api('marshal').get(`/v1/rule-sets/${ruleSetId}/versions/1`);
    expect(json.body.document).toEqual(valueOf(EXAMPLE));
    const yaml = await getYaml(`${ruleSetId}/versions/1`);
    expect(yaml.headers['content-type']).toBe('application/yaml');
    expect(valueOf(yaml.text)).toEqual(valueOf(EXAMPLE));
    // the same content, written by this server, is the same version
    await put(ruleSetId, yaml.text, '"1"');
    const again = await t
      .api('organizer')
      .post(`/v1/rule-sets/${ruleSetId}/publish`)
      .set('if-match', '"2"')
      .send({ changelog: 'Again' });
    expect(again.body).toMatchObject({ code: 'already-published', version: 1 });
  });

  async function authorization(): Promise<Record<string, string>> {
    const { token } = await t.mint('organizer');
    return { authorization: `Bearer ${token}` };
  }
});

describe('the example', () => {
  test('uses every kind of test and every key of a rule, and leaves nothing to warn of', async () => {
    const checked = await checkYaml(EXAMPLE);
    expect(checked.body).toEqual({ ok: true, faults: [], moreFaults: 0, warnings: [], moreWarnings: 0 });
    const { rules, ...document } = valueOf(EXAMPLE) as { rules: { test: { kind: string } }[] };
    const kinds = new Set(rules.map(({ test: { kind } }) => kind));
    expect([...kinds].toSorted()).toEqual(
      'age confirm expression limit none-of one-of photo range spread valid-through'.split(' '),
    );
    const keys = new Set(rules.flatMap((rule) => Object.keys(rule)));
    expect([...keys].toSorted()).toEqual(
      (
        'basis clearedBy concession decision each effect fix floor id items message noAnswer recall safetyCritical ' +
        'severity test title watch when'
      ).split(' '),
    );
    expect(Object.keys(document).toSorted()).toEqual(
      'alwaysLook concessionCategories description examples name parameters'.split(' '),
    );
  });
});

describe('checking any document', () => {
  test('stores nothing and says the same of YAML and of JSON, but for the places', async () => {
    const before = (await t.api('organizer').get('/v1/rule-sets')).body.ruleSets.length;
    const broken = { ...DOCUMENT_EXAMPLE, rules: [{ ...DOCUMENT_EXAMPLE.rules[0], items: ['pad.thicknes'] }] };
    const json = await t.api('organizer').post('/v1/rule-set-checks').send(broken);
    const yaml = await checkYaml(YAML_EXAMPLE.replace('[pad.thickness]', '[pad.thicknes]'));
    expect(json.status).toBe(200);
    expect(json.body.faults.map((fault: { code: string }) => fault.code)).toEqual(['unknown-item', 'item-not-listed']);
    const withoutPlaces = yaml.body.faults.map(({ place: _place, ...fault }: Record<string, unknown>) => fault);
    expect(withoutPlaces).toEqual(json.body.faults);
    expect(yaml.body.faults[0].place).toEqual({ line: 8, column: 13 });
    expect((await t.api('organizer').get('/v1/rule-sets')).body.ruleSets.length).toBe(before);
  });

  test('tells what cannot be read as a fault like any other', async () => {
    const checked = await checkYaml('a: 1\na: 2\n');
    expect(checked.status).toBe(200);
    expect(checked.body).toEqual({
      ok: false,
      faults: [
        {
          pointer: '/a',
          code: 'bad-yaml',
          detail: 'this key is there already, in line 1',
          place: { line: 2, column: 1 },
        },
      ],
      moreFaults: 0,
      warnings: [],
      moreWarnings: 0,
    });
  });

  test('takes any shape', async () => {
    for (const text of ['', '~', 'x', '[1]', 'rules: {}']) expect((await checkYaml(text)).body.ok).toBe(false);
    expect((await t.api('organizer').post('/v1/rule-set-checks').send({})).body.ok).toBe(false);
    expect((await t.api('organizer').post('/v1/rule-set-checks').send([])).status).toBe(400);
    expect((await t.api('organizer').post('/v1/rule-set-checks')).status).toBe(400);
    expect((await t.api('organizer').post('/v1/rule-sets')).status).toBe(400);
    const odd = t.api('organizer').post('/v1/rule-sets').set('content-type', 'Application/JSON; charset=utf-8');
    expect((await odd.send('{"name": 1}')).status).toBe(400);
  });

  test('lets other requests through while it works', async () => {
    const rules = Array.from({ length: 400 }, (_, at) => ({
      ...DOCUMENT_EXAMPLE.rules[0],
      id: `r-${at}`,
      when: `vehicle.massKg > q(${at + 500}, "kg") && oil.level.reading > 0.${at}`,
    }));
    const check = t
      .api('organizer')
      .post('/v1/rule-set-checks')
      .send({ ...DOCUMENT_EXAMPLE, rules })
      .then((answer) => answer.status);
    const others: Promise<'still working' | 'done'>[] = [];
    const answeredFirst = async () => {
      await t.api(undefined).get('/livez');
      return 'still working' as const;
    };
    for (let at = 0; at < 5; at += 1) {
      others.push(Promise.race([check.then(() => 'done' as const), answeredFirst()]));
      await others.at(-1);
    }
    const answered = (await Promise.all(others)).filter((one) => one === 'still working').length;
    expect(await check).toBe(200);
    expect(answered).toBeGreaterThan(2);
  });
});

describe('for people and their editors', () => {
  test('the page about rule sets', async () => {
    const page = await t.api(undefined).get('/docs/rule-sets');
    expect(page.status).toBe(200);
    expect(page.headers['content-type']).toContain('text/html');
    expect(page.headers['content-security-policy']).toContain("default-src 'none'");
    for (const word of ['Kinds of test', 'valid-through', 'atEnd(a)', 'floor', 'application/yaml']) {
      expect(page.text).toContain(word);
    }
    expect(page.text).not.toContain('<script');
  });

  test('the JSON Schema', async () => {
    const schema = await t.api(undefined).get('/rule-set.schema.json');
    expect(schema.headers['content-type']).toContain('application/schema+json');
    const text = schema.text ?? schema.body.toString();
    expect(JSON.parse(text)).toMatchObject({ $id: 'urn:gridworthy:rule-set' });
    const again = await t
      .api(undefined)
      .get('/rule-set.schema.json')
      .set('if-none-match', schema.headers['etag'] ?? '');
    expect(again.status).toBe(304);
  });
});
