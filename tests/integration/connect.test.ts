import { randomUUID } from 'node:crypto';
import Fastify from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { z } from 'zod';
import { addRoute } from '../../src/http/frame/route.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { sql } from '../support/records.ts';

const ORIGIN = 'https://results.example.org';
let t: TestApp;
beforeAll(async () => {
  t = await startTestApp({ config: { corsOrigins: [ORIGIN] } });
});
afterAll(() => t.close());

const venue = (name: string) => ({ name, timeZone: 'Etc/UTC' });

describe('pages of other origins', () => {
  const ahead = (origin: string) =>
    t.app.inject({
      method: 'OPTIONS',
      url: '/v1/venues',
      headers: {
        origin,
        'access-control-request-method': 'POST',
        'access-control-request-headers': 'authorization, idempotency-key',
      },
    });

  // Source: Fetch Standard, "CORS protocol": the names of the headers and when a browser goes on.
  test('that are named may call the API and read what it tells', async () => {
    const asked = await ahead(ORIGIN);
    expect(asked.statusCode).toBe(204);
    expect(asked.headers).toMatchObject({
      'access-control-allow-origin': ORIGIN,
      vary: expect.stringMatching(/origin/i),
    });
    expect(String(asked.headers['access-control-allow-headers']).toLowerCase()).toContain('idempotency-key');
    expect(String(asked.headers['access-control-allow-methods'])).toContain('PATCH');
    const answer = await t.app.inject({ url: '/healthz', headers: { origin: ORIGIN } });
    expect(answer.headers['access-control-allow-origin']).toBe(ORIGIN);
    expect(String(answer.headers['access-control-expose-headers'])).toContain('ETag');
    expect(answer.headers).not.toHaveProperty('access-control-allow-credentials');
  });

  test('that are not named are told nothing', async () => {
    for (const origin of ['https://evil.example', `${ORIGIN}.evil.example`, 'null', ORIGIN.replace('https', 'http')]) {
      expect((await ahead(origin)).headers, origin).not.toHaveProperty('access-control-allow-origin');
    }
  });
});

describe('a key', () => {
  const post = (path: string, key: string, body: object) =>
    t.api('organizer').post(path).set('idempotency-key', key).send(body);

  test('makes a thing once, however often and at once it is sent', async () => {
    const key = randomUUID();
    const name = `Once ${key}`;
    const answers = await Promise.all(Array.from({ length: 8 }, () => post('/v1/venues', key, venue(name))));
    const made = answers.filter(({ status }) => status === 201);
    for (const { status, body } of answers) if (status !== 201) expect(body.code).toBe('idempotency-key-busy');
    expect(new Set(made.map(({ body }) => body.venueId)).size).toBe(1);
    const again = await post('/v1/venues', `"${key}"`, venue(name));
    expect(again.status).toBe(201);
    expect(again.headers['idempotency-replayed']).toBe('true');
    expect(again.body).toEqual(made[0]?.body);
    expect(await sql(t, 'SELECT 1 FROM venues WHERE name = $1', [name])).toHaveLength(1);
    const other = await post('/v1/venues', key, venue('Another'));
    expect(other.body.code).toBe('idempotency-key-reused');
  });

  test('is another one for another caller and another address, and free again after a refusal', async () => {
    const key = randomUUID();
    const event = { name: 'E', venueId: randomUUID(), startsOn: '2026-06-13', endsOn: '2026-06-13' };
    const times = { declarationsOpenAt: '2026-06-01T08:00:00Z', declarationsCloseAt: '2026-06-12T08:00:00Z' };
    const refused = await post('/v1/events', key, { ...event, ...times });
    expect(refused.status).toBeGreaterThanOrEqual(400);
    const { venueId } = (await post('/v1/venues', key, venue(`Free ${key}`))).body;
    const made = await post('/v1/events', key, { ...event, ...times, venueId });
    expect(made.status).toBe(201);
  });

  test('gives no secret away a second time, and none is kept', async () => {
    const key = randomUUID();
    const wanted = { role: 'organizer', holder: 'Second organizer' };
    const first = await post('/v1/tokens', key, wanted);
    expect(first.status).toBe(201);
    const again = await post('/v1/tokens', key, wanted);
    expect(again.body).toMatchObject({ status: 409, code: 'shown-once' });
    const kept = await sql<{ text: string }>(t, 'SELECT i::text AS text FROM idempotency i WHERE key = $1', [key]);
    expect(kept).toHaveLength(1);
    expect(kept[0]?.text).not.toContain(first.body.token);
  });

  test('of a request that ended without an answer says to look', async () => {
    const key = randomUUID();
    const body = venue(`Lost ${key}`);
    await post('/v1/venues', key, body);
    await sql(t, `UPDATE idempotency SET status = NULL, created_at = now() - interval '2 minutes' WHERE key = $1`, [
      key,
    ]);
    const again = await post('/v1/venues', key, body);
    expect(again.body).toMatchObject({
      status: 409,
      code: 'idempotency-key-busy',
      detail: expect.stringMatching(/^.*Look whether/),
    });
  });

  test('is honoured by every operation that creates', async () => {
    const { body: document } = await t.api(undefined).get('/docs/json');
    const without: string[] = [];
    for (const [path, item] of Object.entries(document.paths as Record<string, Record<string, Operation>>)) {
      const { post: operation } = item;
      if (operation === undefined || operation.security?.length === 0) continue;
      if (!('201' in operation.responses || '202' in operation.responses)) continue;
      if (operation.parameters?.some(({ name }) => name.toLowerCase() === 'idempotency-key') !== true)
        without.push(path);
    }
    // A photo is kept under the hash of what is in it, so that sending it twice keeps one. A claim is one for each car.
    expect(without.filter((path) => !/photos$|line\/claims$/.test(path))).toEqual([]);
  });
});

interface Operation {
  security?: unknown[];
  responses: Record<string, unknown>;
  parameters?: { name: string }[];
}

describe('headers', () => {
  // Source: draft-ietf-httpapi-ratelimit-headers (structured fields RateLimit-Policy and RateLimit; revision from memory).
  test('say the limit in the words of the draft standard, and the same as before', async () => {
    const { headers } = await t.api('marshal').get('/v1/own-token');
    expect(headers['ratelimit-policy']).toBe(`"caller";q=${headers['x-ratelimit-limit']};w=60`);
    expect(headers['ratelimit']).toBe(
      `"caller";r=${headers['x-ratelimit-remaining']};t=${headers['x-ratelimit-reset']}`,
    );
  });

  // Source: RFC 6750, section 3 and 3.1.
  test('say why a token is not enough', async () => {
    const none = await t.api(undefined).get('/v1/tokens');
    expect(none.headers['www-authenticate']).toBe('Bearer realm="gridworthy"');
    const wrong = await t.app.inject({ url: '/v1/tokens', headers: { authorization: 'Bearer gw_none' } });
    expect(wrong.headers['www-authenticate']).toBe('Bearer realm="gridworthy", error="invalid_token"');
    const small = await t.api('marshal').get('/v1/tokens');
    expect(small.status).toBe(403);
    expect(small.headers['www-authenticate']).toBe('Bearer realm="gridworthy", error="insufficient_scope"');
  });

  test('take over the id of a request where it can be one', async () => {
    const idOf = async (given: string) =>
      (await t.app.inject({ url: '/healthz', headers: { 'x-request-id': given } })).headers['x-request-id'];
    expect(await idOf('01a21235-c544-7216-ac79-395e48621089')).toBe('01a21235-c544-7216-ac79-395e48621089');
    for (const odd of ['short', 'a'.repeat(65), 'with space in the middle', 'line{"msg":"forged"}.....']) {
      expect(await idOf(odd)).toMatch(/^[0-9a-f-]{36}$/);
    }
  });

  // Sources: RFC 9745, section 2 (its example date 1688169599 is 30 June 2023), RFC 8594, section 3.
  test('say that an operation goes out of use, with every answer of it', async () => {
    const app = Fastify();
    app.setValidatorCompiler(() => () => true);
    app.setSerializerCompiler(() => JSON.stringify);
    addRoute(app, {
      method: 'GET',
      path: '/old',
      operationId: 'old',
      summary: 'Old',
      tag: 'Service',
      access: 'public',
      deprecated: { since: '2023-07-01', sunset: '2024-01-01', instead: '/docs/integrate' },
      success: { 200: { description: 'As ever', schema: z.object({}) } },
      problems: [],
      handle: async () => ({ status: 200, body: {} }),
    });
    const { headers } = await app.inject('/old');
    // One second after the instant of the example.
    expect(headers['deprecation']).toBe('@1688169600');
    expect(headers['sunset']).toBe('Mon, 01 Jan 2024 00:00:00 GMT');
    expect(headers['link']).toBe('</docs/integrate>; rel="deprecation"; type="text/html"');
    await app.close();
  });
});

// Source: RFC 9309, section 2.2.
test('search engines are asked to stay away', async () => {
  const { text, headers } = await t.api(undefined).get('/robots.txt').expect(200);
  expect(headers['content-type']).toContain('text/plain');
  expect(text).toBe('User-agent: *\nDisallow: /\n');
});
