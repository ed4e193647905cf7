import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { STANDINGS } from '../../src/domain/trade/calculation.ts';
import { CALCULATIONS } from '../../src/domain/trade/calculations.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { arbBody } from '../unit/features/calculations/arbitrary-bodies.ts';
import { readSvg } from '../unit/features/calculations/read-svg.ts';

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

const SVG = 'image/svg+xml';
const ask = (name: string, body: unknown, accept?: string) => {
  const asked = t.api('marshal').post(`/v1/calculations/${name}`);
  return (accept === undefined ? asked : asked.set('accept', accept)).send(body as object);
};
const nameAndExample = CALCULATIONS.map(({ name, example }) => [name, example] as const);

describe('the list', () => {
  test('has every computation with sources, the address to ask and a body that works there', async () => {
    const { status, body, headers } = await t.api('marshal').get('/v1/calculations');
    expect(status).toBe(200);
    expect(body.calculations.map(({ name }: { name: string }) => name)).toEqual(CALCULATIONS.map(({ name }) => name));
    const document = (await t.api(undefined).get('/openapi-calculations.json')).body;
    for (const one of body.calculations) {
      expect(one.title && one.summary).toBeTruthy();
      expect(one.sources.length).toBeGreaterThan(0);
      const operation = document.paths[one.operation.href].post;
      expect(operation.operationId).toBe(one.operation.operationId);
      expect(Object.keys(operation.responses['200'].content)).toEqual(one.mediaTypes);
      expect(one.operation.documentation).toBe(`/docs/#/Calculations/${one.operation.operationId}`);
    }
    expect(body.caution).toMatch(/never guarantees a safe car/u);
    const again = await t
      .api('marshal')
      .get('/v1/calculations')
      .set('if-none-match', headers['etag'] ?? '');
    expect([again.status, again.text]).toEqual([304, '']);
  });
});

describe('every computation', () => {
  test.each(nameAndExample)('%s answers its example with steps, standings and sources', async (name, example) => {
    const { status, body, headers } = await ask(name, example);
    expect(status).toBe(200);
    expect(headers['content-type']).toMatch(/^application\/json/u);
    expect(headers['vary']).toMatch(/^Accept\b/u);
    expect(Object.keys(body)).toEqual(['name', 'result', 'steps', 'assumptions', 'cautions', 'sources', 'caution']);
    expect(body.name).toBe(name);
    expect(body.caution).toMatch(/never guarantees a safe car/u);
    expect(body.steps.length).toBeGreaterThan(0);
    for (const step of body.steps) {
      for (const part of ['what', 'formula', 'numbers', 'result']) expect(step[part]).toMatch(/\S/u);
    }
    expect(body.sources.length).toBeGreaterThan(0);
    for (const { title, standing } of body.sources) {
      expect(title).toMatch(/\S/u);
      expect(STANDINGS).toContain(standing);
    }
    for (const { name: what, value, standing } of body.assumptions) {
      expect(what && value).toMatch(/\S/u);
      expect(STANDINGS).toContain(standing);
    }
    expect(JSON.stringify(body)).not.toMatch(/NaN|Infinity|undefined/u);
  });

  test('shows where a value is from memory', async () => {
    const { body } = await ask('brake-heat', CALCULATIONS.find(({ name }) => name === 'brake-heat')?.example);
    const fromMemory = body.assumptions.filter(({ standing }: { standing: string }) => standing === 'from-memory');
    expect(fromMemory.map(({ name }: { name: string }) => name)).toContain('convection.factor');
  });

  test('takes a value in any unit that converts, and says which do not', async () => {
    // 30 psi is 206.843 kPa (NIST SP 811, appendix B: 1 psi = 6.894757 kPa)
    const inPsi = await ask('tyre-pressure', { coldKpa: { value: 30, unit: 'psi' }, coldC: 20, hotC: 80 });
    const inKpa = await ask('tyre-pressure', { coldKpa: 206.84271, coldC: 20, hotC: 80 });
    expect(inPsi.status).toBe(200);
    expect(inPsi.body.result).toEqual(inKpa.body.result);
    const wrong = await ask('tyre-pressure', { coldKpa: { value: 30, unit: 'mm' }, coldC: 20, hotC: 80 });
    expect(wrong.status).toBe(400);
    expect(wrong.body.errors).toMatchObject([{ pointer: '/coldKpa', in: 'body' }]);
  });

  test('is documented in the form that is sent, not in the form that is worked with', async () => {
    const { paths, components } = (await t.api(undefined).get('/openapi-calculations.json')).body;
    const { schema } = paths['/v1/calculations/tyre-pressure'].post.requestBody.content['application/json'];
    expect(schema.additionalProperties).toBe(false);
    const [number, withUnit] = schema.properties.coldKpa.anyOf;
    expect(number).toEqual({ type: 'number' });
    expect(components.schemas[withUnit.$ref.split('/').at(-1)].required).toEqual(['value', 'unit']);
    expect(schema.properties.coldKpa.description).toMatch(/kPa where no unit is given/u);
  });
});

describe('refusals', () => {
  test('of what cannot be are 422 with a pointer to each value', async () => {
    const { status, body } = await ask('tyre-age', { code: '234', onDay: '2026-06-13' });
    expect(status).toBe(422);
    expect(body.code).toBe('calculation-refused');
    expect(body.errors).toMatchObject([{ pointer: '/code', code: 'ambiguous-decade', in: 'body' }]);
    expect(body.detail).toContain('/code: Three digits');
  });

  test('of unknown members and wrong types are 400', async () => {
    const unknown = await ask('tyre-age', { code: '2324', onDay: '2026-06-13', colour: 'black' });
    expect([unknown.status, unknown.body.errors[0].pointer, unknown.body.errors[0].code]).toEqual([
      400,
      '/colour',
      'unknown-key',
    ]);
    expect((await ask('tyre-age', [])).status).toBe(400);
    expect((await ask('tyre-age', {})).status).toBe(400);
  });

  test('of an unknown name are 404 with those that there are', async () => {
    const { status, body } = await ask('horoscope', { sign: 'leo' });
    expect([status, body.code]).toEqual([404, 'not-found']);
    for (const { name } of CALCULATIONS) expect(body.detail).toContain(name);
  });

  test('of no token are 401, also for an unknown name', async () => {
    for (const name of ['tyre-age', 'horoscope']) {
      expect((await t.api(undefined).post(`/v1/calculations/${name}`).send({})).status).toBe(401);
    }
  });

  test('of another method are 405', async () => {
    const { status, headers } = await t.api('marshal').get('/v1/calculations/tyre-age');
    expect([status, headers['allow']]).toEqual([405, 'POST']);
  });
});

describe('plots', () => {
  const PLOTTED = ['brake-heat', 'pad-forecast'];

  test.each(PLOTTED)('of %s are asked for by Accept', async (name) => {
    const { example } = CALCULATIONS.find((one) => one.name === name) ?? {};
    const answer = await ask(name, example, SVG).buffer(true);
    expect(answer.status).toBe(200);
    expect(answer.headers).toMatchObject({
      'content-type': `${SVG}; charset=utf-8`,
      vary: expect.stringMatching(/^Accept\b/u),
    });
    expect(answer.headers['content-security-policy']).toContain("default-src 'none'");
    const svg = readSvg(String(answer.body));
    expect(svg.attributes).toMatchObject({ role: 'img', width: '720' });
    expect(svg.children[0]?.text).toMatch(/^Brake/u);
    const json = await ask(name, example, `${SVG};q=0.1, application/json`);
    expect(json.headers['content-type']).toMatch(/^application\/json/u);
  });

  test.each(
    CALCULATIONS.map(({ name, example }) => [name, example] as const).filter(([name]) => !PLOTTED.includes(name)),
  )('of %s are refused with 406', async (name, example) => {
    const { status, body, headers } = await ask(name, example, SVG);
    expect([status, body.code, headers['vary']]).toEqual([
      406,
      'media-type-not-offered',
      expect.stringMatching(/^Accept\b/u),
    ]);
    expect(headers['content-type']).toMatch(/^application\/problem\+json/u);
    expect(body.offered).toEqual(['application/json']);
  });

  test('of what cannot be are refused as a problem', async () => {
    const { status, body } = await ask('pad-forecast', { pads: [{ position: 'FL.in', history: [] }] }, SVG);
    expect([status, body.code]).toEqual([400, 'invalid-request']);
    const one = { position: 'FL.in', history: [{ thicknessMm: 9, sessions: 0 }] };
    const refused = await ask('pad-forecast', { pads: [one], sessionsToCome: 4 }, SVG);
    expect([refused.status, refused.body.code]).toEqual([422, 'calculation-refused']);
  });
});

test.each(CALCULATIONS.map((calculation) => [calculation.name, calculation] as const))(
  '%s answers 200, 400 or 422 whatever it is sent',
  async (name, calculation) => {
    const body = arbBody(calculation);
    const accept = fc.constantFrom('application/json', `${SVG}, */*;q=0.1`);
    await fc.assert(
      fc.asyncProperty(body, accept, async (sent, type) => {
        const answer = await t
          .api('marshal')
          .post(`/v1/calculations/${name}`)
          .set('content-type', 'application/json')
          .set('accept', type)
          .send(JSON.stringify(sent));
        expect([200, 400, 422], JSON.stringify([sent, answer.body])).toContain(answer.status);
        if (answer.status !== 200) expect(answer.body.errors?.length ?? 1).toBeGreaterThan(0);
      }),
      { numRuns: 40 },
    );
  },
);
