import { connect } from 'node:net';
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { apiDocument, type Json } from '../../src/features/service/document-routes.ts';
import { PROBLEMS } from '../../src/http/frame/problems.ts';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { createTestEntry, createTestEvent, type TestEntry } from '../support/event.ts';
import { openTestShop } from '../support/shop.ts';

const METHODS = ['get', 'post', 'put', 'patch', 'delete'] as const;
type Method = (typeof METHODS)[number];

interface Answer {
  status: number;
  headers: Record<string, string>;
  text: string;
}
interface Operation {
  method: Method;
  path: string;
  isPublic: boolean;
  media: string[];
}

let t: TestApp;
let entry: TestEntry;
let shop: TestToken;
let shopId: string;
let validate: ValidateFunction;
let operations: Operation[];
let limit: number;
/** the `type` of every problem met, for the last test */
const types = new Set<string>();

beforeAll(async () => {
  t = await startTestApp();
  limit = t.deps.config.bodyLimitKb * 1024;
  entry = await createTestEntry(t, await createTestEvent(t));
  ({ token: shop, shopId } = await openTestShop(t, entry));
  const document = apiDocument(t.app);
  validate = new Ajv2020({ strict: false }).compile({
    $ref: '#/components/schemas/Problem',
    components: document['components'],
  });
  operations = Object.entries(document['paths'] as Json).flatMap(([path, item]) =>
    Object.entries(item as Record<string, Json>).map(([method, operation]) => ({
      method: method as Method,
      path,
      isPublic: (operation['security'] as unknown[] | undefined)?.length === 0,
      media: Object.keys((operation['requestBody'] as { content: Json } | undefined)?.content ?? {}),
    })),
  );
});
afterAll(() => t.close());

/** Whatever went wrong, the answer has this form. */
function expectProblem(answer: Answer, status: number | readonly number[], place: string): Json {
  const shown = `${place}: ${answer.status} ${answer.text.slice(0, 300)}`;
  expect([status].flat(), shown).toContain(answer.status);
  expect(answer.headers['content-type'], shown).toMatch(/^application\/problem\+json/);
  const body = JSON.parse(answer.text) as Json;
  expect(validate(body), `${shown} ${JSON.stringify(validate.errors)}`).toBe(true);
  expect(body['status'], shown).toBe(answer.status);
  const slug = String(body['code']);
  expect(PROBLEMS, shown).toHaveProperty([slug, 'status'], answer.status);
  expect(String(body['type']).endsWith(`/problems/${slug}`), shown).toBe(true);
  expect(answer.text, shown).not.toMatch(/\bat .*\.(ts|js):\d|node_modules|SELECT |INSERT /);
  types.add(String(body['type']));
  return body;
}

const ids = (id: string) => (path: string) =>
  path
    .replaceAll('{entryId}', entry.entryId)
    .replaceAll('{shopId}', shopId)
    .replaceAll(/\{\w+\}/g, id);
const withUnknownIds = (path: string) =>
  ids('019ab8f0-0000-7000-8000-00000000dead')(
    path
      .replaceAll('{version}', '1')
      .replaceAll('{step}', 'venue')
      .replaceAll('{kind}', 'link')
      .replaceAll('{language}', 'en'),
  );

/** A token with which the operation gets as far as its body. */
function tokenFor({ method, path }: Operation): TestToken | 'organizer' | 'chief' {
  if (path.endsWith('/declaration') || (path.endsWith('/inspections') && method === 'post')) return entry.entrant;
  if (path.includes('/shop-links')) return entry.entrant;
  if (path.startsWith('/v1/shops/')) return shop;
  return /claims|conditions|concessions|photos/.test(path) ? 'chief' : 'organizer';
}
const call = (operation: Operation, url: string) => t.api(tokenFor(operation))[operation.method](url);
/** A list of cars or a whole rule set is longer than other bodies. */
const takesLong = ({ path }: { path: string }, type: string): boolean =>
  type === 'text/csv' || path.includes('/rule-set') || path.includes('/entries/lists');

const withBody = () => operations.filter(({ method }) => ['post', 'put', 'patch'].includes(method));
const named = ({ method, path }: Operation) => `${method.toUpperCase()} ${path}`;

describe('every operation that takes a body answers', () => {
  test.each(['{', '{"a":', 'nonsense', '{"a":1}}', '\u0001'])('bad JSON %j with 400', async (text) => {
    for (const operation of withBody()) {
      const media = operation.media.length === 0 || operation.media.includes('application/json');
      if (!media) continue;
      const answer = await call(operation, withUnknownIds(operation.path))
        .set('content-type', 'application/json')
        .send(text);
      const body = expectProblem(answer, 400, named(operation));
      expect(body['code'], named(operation)).toBe('malformed-json');
    }
  });

  test.each(['application/x-unknown', 'text/html', 'nonsense'])('the media type %s with 415', async (type) => {
    for (const operation of withBody()) {
      const answer = await call(operation, withUnknownIds(operation.path)).set('content-type', type).send('{}');
      expectProblem(answer, 415, named(operation));
    }
  });

  test('a body that is too large with 413', async () => {
    for (const operation of withBody()) {
      const type = operation.media.find((media) => media !== 'application/json') ?? 'application/json';
      const most = type.startsWith('image/') ? 26 * limit : takesLong(operation, type) ? 20 * limit : limit;
      const text = JSON.stringify({ a: 'x'.repeat(most) });
      expectProblem(
        await call(operation, withUnknownIds(operation.path)).set('content-type', type).send(text),
        413,
        named(operation),
      );
    }
  });

  test.each([
    ['{"__proto__":{"admit":true}}', 'invalid-request'],
    ['{"a":[{"__proto__":1}]}', 'invalid-request'],
    ['{"constructor":{"prototype":{"admit":true}}}', 'invalid-request'],
    ['{"name":"a\\u0000b"}', 'invalid-request'],
    ['{"a\\u0000b":1}', 'invalid-request'],
    ['{"name":"\\ud800"}', 'invalid-request'],
    [`{"answers":${'['.repeat(9000)}${']'.repeat(9000)}}`, 'invalid-request'],
    ['{"carNumber":1e999}', 'invalid-request'],
    ['[]', 'invalid-request'],
    ['null', 'invalid-request'],
    ['"text"', 'invalid-request'],
  ])('%.40s with 400', async (text, code) => {
    for (const operation of withBody().filter(({ media }) => media.includes('application/json'))) {
      const answer = await call(operation, withUnknownIds(operation.path))
        .set('content-type', 'application/json')
        .set({ 'if-match': '*', 'idempotency-key': 'k' })
        .send(text);
      expect(expectProblem(answer, 400, named(operation))['code'], named(operation)).toBe(code);
    }
    expect(({} as Json)['admit']).toBeUndefined();
  });

  test('an unknown key with 400, naming it', async () => {
    // faults of a rule set are what this one answers with, 200 and by their place
    const checked = withBody().filter(({ path }) => path !== '/v1/rule-set-checks');
    for (const operation of checked.filter(({ media }) => media.includes('application/json'))) {
      const answer = await call(operation, withUnknownIds(operation.path))
        .set({ 'if-match': '*', 'idempotency-key': 'k' })
        .send({ 'no/such~key': 1 });
      const { errors } = expectProblem(answer, 400, named(operation)) as { errors: { pointer: string }[] };
      expect(
        errors.map((fault) => fault.pointer),
        named(operation),
      ).toContain('/no~1such~0key');
    }
  });
});

describe('every address answers', () => {
  test('a method it does not have with 405 and Allow', async () => {
    const paths = new Map<string, Set<Method>>();
    for (const { method, path } of operations) paths.set(path, (paths.get(path) ?? new Set()).add(method));
    // Whatever is typed behind `gate/` can be looked up, this word too: it is a number that no car has.
    paths.get('/v1/events/{eventId}/gate/checks')?.add('get');
    for (const [path, known] of paths) {
      const url = withUnknownIds(path);
      for (const method of METHODS.filter((one) => !known.has(one))) {
        const answer = await t.api('organizer')[method](url);
        expectProblem(answer, 405, `${method} ${path}`);
        const allow = [...known, ...(known.has('get') ? ['head'] : [])].map((one) => one.toUpperCase()).sort();
        expect(answer.headers['allow'], path).toBe(allow.join(', '));
      }
      expectProblem(await t.api('organizer').options(url), 405, `OPTIONS ${path}`);
    }
  });

  test.each([
    ['a broken percent escape', '%zz'],
    ['half of a character', '%C3'],
    ['200 characters', 'x'.repeat(200)],
    ['3000 characters', 'x'.repeat(3000)],
    ['U+0000', '%00'],
    ['a path upwards', '..%2f..%2fetc%2fpasswd'],
  ])('%s for an id with a problem', async (_what, id) => {
    for (const operation of operations.filter(({ path }) => path.includes('{'))) {
      const url = operation.path.replaceAll(/\{\w+\}/g, id);
      const answer = await call(operation, url).set({ 'if-match': '*', 'idempotency-key': 'k' });
      // What fits in 40 characters is something a marshal may have typed, so it gets an answer, which is no.
      if (operation.path.endsWith('{carNumber}') && answer.status === 200) expect(answer.body.admit).toBe(false);
      else expectProblem(answer, [400, 404, 415], named(operation));
    }
  });

  test('nobody with 401, before anything else', async () => {
    for (const operation of operations.filter(({ isPublic }) => !isPublic)) {
      const nobody = t.api(undefined);
      const request = nobody[operation.method](withUnknownIds(operation.path)).set('content-type', 'text/x-unknown');
      const answer = await (['get', 'delete'].includes(operation.method) ? request : request.send('{'));
      expectProblem(answer, 401, named(operation));
      expect(answer.headers['www-authenticate']).toMatch(/^Bearer/);
    }
    const open = operations.filter(({ isPublic, path }) => isPublic && path.startsWith('/v1'));
    // Their codes are what lets a caller in who has no token yet.
    expect(open.map(named)).toEqual(['POST /v1/enrolments/redeem', 'POST /v1/shops', 'POST /v1/shared-calculations']);
  });

  test('an unknown query key with 400', async () => {
    for (const operation of operations.filter(
      ({ method, path }) => method === 'get' && /entries$|gate\/|tokens$/.test(path),
    )) {
      const answer = await call(operation, `${withUnknownIds(operation.path)}?colour=red`);
      const { errors } = expectProblem(answer, 400, named(operation)) as { errors: { pointer: string; in: string }[] };
      expect(errors[0]).toMatchObject({ pointer: '/colour', in: 'query' });
    }
  });
});

describe('unknown addresses', () => {
  test.each([
    '/v1',
    '/v1/',
    '/v1/nothing',
    '/nothing',
    '/v1/events/x/y/z',
    '/V1/events',
    '//v1/events',
    '/v1/events//gate',
    '/.env',
  ])('%s is a problem', async (path) => {
    expectProblem(await t.api('organizer').get(path), [400, 404], path);
  });

  test('carry the id of the request in body and header', async () => {
    const answer = await t.api('organizer').get('/v1/nothing');
    const body = expectProblem(answer, 404, '/v1/nothing');
    expect(body['requestId']).toBe(answer.headers['x-request-id']);
    expect(body['instance']).toBe('/v1/nothing');
  });

  test('with `/gate` in them say no as well', async () => {
    expect(JSON.parse((await t.api('marshal').get('/v1/events/x/gate/7/7')).text)).toMatchObject({ admit: false });
  });
});

/** Sends bytes as they are and reads the answer until the server closes. */
function raw(bytes: string): Promise<Answer> {
  const { port } = t.app.server.address() as { port: number };
  return new Promise((resolve, reject) => {
    let received = '';
    const socket = connect(port, '127.0.0.1', () => socket.write(bytes));
    socket.setEncoding('utf8');
    socket.setTimeout(5000, () => socket.destroy(new Error(`no answer to ${JSON.stringify(bytes.slice(0, 60))}`)));
    socket.on('data', (chunk) => {
      received += String(chunk);
    });
    socket.on('error', reject);
    socket.on('close', () => {
      const [head = '', text = ''] = received.split('\r\n\r\n', 2);
      const [start = '', ...lines] = head.split('\r\n');
      const headers = lines
        .map((line) => /^([^:]+): *(.*)$/.exec(line))
        .map((match) => [match?.[1]?.toLowerCase() ?? '', match?.[2] ?? '']);
      resolve({ status: Number(start.split(' ')[1]), headers: Object.fromEntries(headers), text });
    });
  });
}

describe('what is not HTTP', () => {
  const close = 'Host: x\r\nConnection: close\r\n';
  test.each([
    ['noise', 'GARBAGE\r\n\r\n', 400],
    ['an unknown method', `FETCH / HTTP/1.1\r\n${close}\r\n`, 400],
    ['a length that is none', `POST /v1/tokens HTTP/1.1\r\n${close}Content-Length: x\r\n\r\n`, 400],
    [
      'two ways to say the length',
      `POST /v1/tokens HTTP/1.1\r\n${close}Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n`,
      400,
    ],
    ['a header without a name', `GET / HTTP/1.1\r\n${close}: x\r\n\r\n`, 400],
    ['headers of 20 kB', `GET / HTTP/1.1\r\n${close}X-Long: ${'x'.repeat(20_000)}\r\n\r\n`, 431],
    ['an address of 20 kB', `GET /${'x'.repeat(20_000)} HTTP/1.1\r\n${close}\r\n`, 431],
    ['no host', 'GET /livez HTTP/1.1\r\nConnection: close\r\n\r\n', 400],
    ['a broken escape', `GET /v1/%zz HTTP/1.1\r\n${close}\r\n`, 400],
    ['the address *', `OPTIONS * HTTP/1.1\r\n${close}\r\n`, [400, 404]],
  ])('%s is answered with a problem all the same', async (_what, bytes, status) => {
    expectProblem(await raw(bytes), status, JSON.stringify(bytes.slice(0, 60)));
  });

  test('a host is not asked of HTTP/1.0, which had none', async () => {
    expect((await raw('GET /livez HTTP/1.0\r\n\r\n')).status).toBe(200);
    expectProblem(await raw('GET /v1/nothing HTTP/1.0\r\n\r\n'), 404, 'HTTP/1.0');
  });

  test('nobody waits for it: the server serves on', async () => {
    expect((await t.api(undefined).get('/livez')).status).toBe(200);
  });
});

test('too many requests are answered with 429 and how long to wait', async () => {
  const own = await startTestApp({ config: { rateLimitPerMinute: 3 } });
  try {
    const answers: Answer[] = [];
    for (let i = 0; i < 4; i += 1) answers.push(await own.api('marshal').get('/v1/catalogue'));
    expect(answers.map((answer) => answer.status)).toEqual([200, 200, 200, 429]);
    const last = answers[3] as Answer;
    expectProblem(last, 429, 'rate limit');
    expect(Number(last.headers['retry-after'])).toBeGreaterThan(0);
    // Another caller behind the same address is not in the way.
    expect((await own.api('chief').get('/v1/catalogue')).status).toBe(200);
  } finally {
    await own.close();
  }
});

test('every type that was met leads to a page that says cause and remedy', async () => {
  expect(types.size).toBeGreaterThanOrEqual(8);
  for (const type of types) {
    const { pathname } = new URL(type, 'http://127.0.0.1');
    const page = await t.api(undefined).get(pathname);
    expect(page.status, type).toBe(200);
    expect(page.headers['content-type']).toMatch(/^text\/html/);
    expect(page.text).toContain('<dt>Cause</dt>');
    expect(page.text).toContain('<dt>Remedy</dt>');
  }
});
