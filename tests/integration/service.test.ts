import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { buildApp } from '../../src/app.ts';
import { openDeps } from '../../src/deps.ts';
import { PROBLEMS } from '../../src/http/frame/problems.ts';
import { DOCUMENTS } from '../../src/http/openapi/documents.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { startTestApp, type TestApp, testConfig } from '../support/app.ts';

let t: TestApp;

beforeAll(async () => {
  t = await startTestApp();
});
afterAll(() => t.close());

const get = (url: string) => t.api(undefined).get(url);

/** An application whose database nobody answers for. */
async function withoutDatabase<T>(
  use: (app: Awaited<ReturnType<typeof buildApp>>) => Promise<T>,
  log = createLogger({ level: 'silent' }),
): Promise<T> {
  const deps = openDeps(testConfig(), 'postgres://nobody@127.0.0.1:1/nothing', log);
  const app = await buildApp(deps);
  try {
    return await use(app);
  } finally {
    await app.close();
    await deps.db.close();
  }
}

describe('health', () => {
  test('says that the process lives and that it is ready', async () => {
    expect((await get('/healthz')).body).toEqual({ status: 'ok' });
    expect((await get('/livez')).body).toEqual({ status: 'ok' });
    expect((await get('/readyz')).body).toEqual({ status: 'ready', database: 'ok' });
  });

  test('without a database the process lives but is not ready', async () => {
    await withoutDatabase(async (app) => {
      expect((await app.inject('/healthz')).statusCode).toBe(200);
      expect((await app.inject('/livez')).statusCode).toBe(200);
      const ready = await app.inject('/readyz');
      expect(ready.statusCode).toBe(503);
      expect(ready.headers['content-type']).toMatch(/^application\/problem\+json/);
      expect(ready.headers['retry-after']).toBe('5');
      expect(ready.json().code).toBe('database-unavailable');
    });
  });

  test('what is logged of a request that failed names it, and hides what nobody may read', async () => {
    const lines: string[] = [];
    const log = createLogger({ level: 'warn', destination: { write: (line) => void lines.push(line) } });
    await withoutDatabase(async (app) => {
      app.addHook('onError', async (request) => request.log.warn({ token: 'gw_secret' }, 'seen'));
      const failed = await app.inject({ url: '/v1/tokens', headers: { authorization: 'Bearer gw_nobody' } });
      expect(failed.json().code).toBe('database-unavailable');
      const { requestId } = failed.json<{ requestId: string }>();
      const said = lines.map((line) => JSON.parse(line) as Record<string, unknown>);
      expect(said.map(({ msg, requestId: of }) => [msg, of])).toEqual([
        ['seen', requestId],
        ['database unavailable', requestId],
      ]);
      expect(said[0]?.['token']).toBe('[redacted]');
    }, log);
  });

  test('a database that lacks a migration is not ready', async () => {
    const own = await startTestApp({ own: true });
    try {
      await own.deps.db.pool.query('UPDATE _prisma_migrations SET rolled_back_at = now()');
      const ready = await own.api(undefined).get('/readyz');
      expect(ready.status).toBe(503);
      expect(ready.body.code).toBe('migrations-pending');
      expect(ready.body.detail).toContain('main_job');
    } finally {
      await own.close();
    }
  });

  test('a server that stops says so while it drains', async () => {
    const app = await buildApp(t.deps);
    let during: { status: number; retryAfter: string | null; code: string } | undefined;
    // Hooks run in order of registration, so the server knows already that it stops when this one asks.
    app.addHook('preClose', async () => {
      const response = await fetch(`${address}/readyz`);
      const { code } = (await response.json()) as { code: string };
      during = { status: response.status, retryAfter: response.headers.get('retry-after'), code };
    });
    const address = await app.listen({ port: 0, host: '127.0.0.1' });
    expect((await fetch(`${address}/readyz`)).status).toBe(200);
    await app.close();
    expect(during).toEqual({ status: 503, retryAfter: '5', code: 'stopping' });
  });
});

describe('documentation', () => {
  test('is a document for each kind of program, with a version tag', async () => {
    // the one for people: the same operations, with everything at its place
    const whole = (await get('/docs/json')).body;
    const paths: string[] = [];
    for (const [name, { title, about }] of Object.entries(DOCUMENTS)) {
      const first = await get(`/${name}.json`);
      expect(first.headers['content-type']).toBe('application/json; charset=utf-8');
      expect(first.body.openapi).toBe('3.1.0');
      const again = await get(`/${name}.json`).set('if-none-match', first.headers['etag'] ?? '');
      expect(again.status).toBe(304);
      expect(first.body.info).toEqual({ ...whole.info, title });
      expect(first.body.servers).toEqual(whole.servers);
      // each says where the others are
      expect(whole.info.description).toContain(`[/${name}.json](/${name}.json), ${about}`);
      paths.push(...Object.keys(first.body.paths));
    }
    expect(paths.toSorted()).toEqual(Object.keys(whole.paths).toSorted());
  });

  test('is a page that loads from this server only', async () => {
    const { status, text, headers } = await get('/docs');
    expect(status).toBe(200);
    expect(headers['content-security-policy']).toMatch(/default-src 'none'/);
    expect(headers['content-security-policy']).not.toMatch(/https?:|unsafe|\*/);
    expect(text).not.toMatch(/(?:src|href)="(?:https?:)?\/\//);
    expect(text).not.toMatch(/<script>|<style>|\son\w+=/);
    const files = [...text.matchAll(/(?:src|href)="([^"]+)"/g)].map((match) => match[1] ?? '');
    expect(files.length).toBeGreaterThanOrEqual(5);
    for (const file of files) expect((await get(file)).status, file).toBe(200);
  });
});

describe('pages', () => {
  test('every problem has a page with cause and remedy', async () => {
    const list = (await get('/problems')).text;
    for (const [slug, problem] of Object.entries(PROBLEMS)) {
      expect(list).toContain(`href="/problems/${slug}"`);
      const page = await get(`/problems/${slug}`);
      expect(page.status).toBe(200);
      expect(page.headers['content-type']).toBe('text/html; charset=utf-8');
      const text = unescape(page.text);
      for (const part of [problem.title, problem.cause, problem.remedy, String(problem.status)]) {
        expect(text).toContain(part);
      }
    }
  });

  test('an unknown problem is a problem itself, whatever its name', async () => {
    for (const slug of ['nothing', 'constructor', '__proto__', encodeURIComponent('<script>')]) {
      const response = await get(`/problems/${slug}`);
      expect(response.status).toBe(404);
      expect(response.headers['content-type']).toMatch(/^application\/problem\+json/);
    }
    expect((await get(`/problems/${'x'.repeat(200)}`)).status).toBe(400);
  });

  test('the type of a problem leads to its page', async () => {
    const { body } = await get('/v1/tokens');
    expect((await get(new URL(body.type, 'http://127.0.0.1').pathname)).status).toBe(200);
  });

  test('the index links to the documentation and shows the cautions; nothing may run on it', async () => {
    const { text, headers } = await get('/');
    const documents = Object.keys(DOCUMENTS).map((name) => `/${name}.json`);
    for (const link of ['/docs', ...documents, '/problems']) expect(text).toContain(`href="${link}"`);
    expect(text).toContain('never guarantees a safe car');
    expect(text).toContain('radiator');
    expect(headers['content-security-policy']).toMatch(/^default-src 'none'; style-src 'sha256-[\w+/]{43}='; /);
    expect(headers['content-security-policy']).not.toContain('unsafe');
    expect(headers['x-content-type-options']).toBe('nosniff');
  });
});

function unescape(text: string): string {
  return text
    .replaceAll('&lt;', '<')
    .replaceAll('&gt;', '>')
    .replaceAll('&quot;', '"')
    .replaceAll('&#39;', "'")
    .replaceAll('&amp;', '&');
}
