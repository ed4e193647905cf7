import { createHash, randomBytes } from 'node:crypto';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { JOBS } from '../../src/worker.ts';
import type { TestApp } from '../support/app.ts';
import {
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import type { LogLine } from '../support/log.ts';
import { idsOfEntry } from './entry-ids.ts';
import { fuzz } from './fuzz.ts';
import { startLoggedApp } from './logged-app.ts';

/** Texts that occur nowhere else, so that meeting one in the wrong place is a leak. */
const mark = () => `q${randomBytes(6).toString('hex')}`;
const NAME = `Zora ${mark()}`;
const EMAIL = `${mark()}@example.org`;
const PHONE = '+4930901820771';
const ANSWER = `note ${mark()}`;
const REASON = `reason ${mark()}`;
const PERSONAL = { NAME, EMAIL, PHONE, ANSWER, REASON };

let t: TestApp;
let lines: LogLine[];
let event: TestEvent;
let entry: TestEntry;
/** every token of this run, minted through the API or not */
const tokens: string[] = [];

beforeAll(async () => {
  ({ t, lines } = await startLoggedApp());
  event = await createTestEvent(t);
  entry = await createTestEntry(t, event, { entrant: { name: NAME, email: EMAIL, phone: PHONE } });
  tokens.push(entry.entrant.token);
});
afterAll(() => t.close());

async function mintThroughApi(role: string, more: object = {}): Promise<{ tokenId: string; token: string }> {
  const events = ['chief', 'inspector', 'marshal'].includes(role) ? { eventIds: [event.eventId] } : {};
  const { body } = await t
    .api('organizer')
    .post('/v1/tokens')
    .send({ role, holder: NAME, ...events, ...more })
    .expect(201);
  tokens.push(body.token as string);
  return body as { tokenId: string; token: string };
}

async function query<T extends object>(text: string): Promise<T[]> {
  const client = new pg.Client({ connectionString: t.databaseUrl });
  await client.connect();
  try {
    return (await client.query<T>(text)).rows;
  } finally {
    await client.end();
  }
}

/** Everything that the database holds, each row as one text; bytes as hexadecimal. */
async function wholeDatabase(): Promise<Map<string, string>> {
  const tables = await query<{ name: string }>(
    `SELECT format('%I.%I', schemaname, tablename) AS name FROM pg_tables
     WHERE schemaname NOT IN ('pg_catalog', 'information_schema')`,
  );
  const dump = new Map<string, string>();
  for (const { name } of tables) {
    const rows = await query<{ row: string }>(`SELECT t::text AS row FROM ${name} t`);
    dump.set(name, rows.map(({ row }) => row).join('\n'));
  }
  return dump;
}

const hex = (bytes: Buffer) => bytes.toString('hex');

describe('tokens (OWASP API2:2023)', () => {
  test('are stored as their SHA-256 and in no other form in any table', async () => {
    for (const role of ['organizer', 'chief', 'inspector', 'marshal']) await mintThroughApi(role);
    const { token } = await mintThroughApi('entrant', { entryId: entry.entryId });
    await t
      .api({ ...entry.entrant, token })
      .get(`/v1/entries/${entry.entryId}`)
      .expect(200);
    const dump = await wholeDatabase();
    expect(dump.size).toBeGreaterThan(20);
    for (const [table, text] of dump) {
      for (const secret of tokens) {
        const random = Buffer.from(secret.slice(3), 'base64url');
        expect(random.length).toBe(32);
        expect(text.includes(secret.slice(3)), `${table} holds a token`).toBe(false);
        expect(text.includes(hex(Buffer.from(secret))), `${table} holds the bytes of a token`).toBe(false);
        expect(text.includes(hex(random)), `${table} holds the random part of a token`).toBe(false);
      }
    }
    // FIPS 180-4, by the library of the platform: what is looked for is really there in its hashed form.
    const hashes = dump.get('public.tokens') ?? '';
    for (const secret of tokens) expect(hashes).toContain(createHash('sha256').update(secret).digest('hex'));
  });

  test('stop at once when revoked, in every operation', async () => {
    const { tokenId, token } = await mintThroughApi('organizer');
    const as = { tokenId, token, role: 'organizer', holder: NAME } as const;
    await t.api(as).get('/v1/events').expect(200);
    await t.api('organizer').delete(`/v1/tokens/${tokenId}`).expect(204);
    const { readApi } = await import('./api-model.ts');
    for (const { method, path, roles } of readApi(t.app).operations) {
      if (roles === undefined) continue;
      const url = path.replaceAll(/\{\w+\}/g, '019ab8f0-0000-7000-8000-00000000dead');
      const gate = path.endsWith('/gate/{carNumber}') ? url.replace(/[^/]+$/, '7') : url;
      const headers = { authorization: `Bearer ${token}` };
      const { statusCode } = await t.app.inject({ method: method as 'GET', url: gate, headers });
      expect(statusCode, `${method} ${path}`).toBe(401);
    }
  });

  test('in the address are nobody', async () => {
    const { token } = await mintThroughApi('organizer');
    for (const key of ['token', 'access_token', 'authorization', 'api_key', 'bearer']) {
      for (const value of [token, `Bearer ${token}`]) {
        await t
          .api(undefined)
          .get('/v1/events')
          .query({ [key]: value })
          .expect(401);
      }
    }
    await t.api(undefined).get('/v1/events').set('cookie', `token=${token}`).expect(401);
    await t.api(undefined).get('/v1/events').set('x-api-key', token).expect(401);
  });

  test('do not tell by the time of the answer how much of one is right', async () => {
    const { token } = await mintThroughApi('marshal');
    // The same length; one shares all but the last character with a token that works.
    const close = token.slice(0, -1) + (token.endsWith('A') ? 'B' : 'A');
    const far = `gw_${'A'.repeat(43)}`;
    const times: Record<string, number[]> = { [close]: [], [far]: [] };
    for (let i = 0; i < 400; i += 1) {
      for (const guess of i % 2 === 0 ? [close, far] : [far, close]) {
        const start = performance.now();
        const headers = { authorization: `Bearer ${guess}` };
        expect((await t.app.inject({ url: '/v1/catalogue', headers })).statusCode).toBe(401);
        times[guess]?.push(performance.now() - start);
      }
    }
    const median = (of: number[] = []) => of.toSorted((a, b) => a - b)[Math.floor(of.length / 2)] ?? 0;
    // What is compared are hashes, which a guess cannot steer; a comparison of texts would not show here either way.
    expect(Math.abs(median(times[close]) - median(times[far]))).toBeLessThan(median(times[far]) * 0.5);
  });
});

describe('the log of a whole run', () => {
  test('has no token, name, address, telephone, answer or reason in it', async () => {
    const ids = await idsOfEntry(t, event, entry);
    const said = await submit(t, entry, { ...GOOD_ANSWERS, 'oil.grade': ANSWER });
    expect(said.status).toBe(201);
    await t.api('inspector').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: REASON });
    await t.api('chief').post(`/v1/holds/${ids['holdId']}/lift`).send({ reason: REASON });
    await t.api('organizer').get(`/v1/events/${event.eventId}/entries/export`);
    await t.api('organizer').get(`/v1/events?holder=${encodeURIComponent(NAME)}&token=${tokens[0]}`);
    await t.api('organizer').get(`/v1/entries/${tokens[0]}`);
    await t.api('organizer').post('/v1/tokens').set('content-type', 'application/json').send(`{"holder":"${NAME}`);
    await t.api('organizer').post('/v1/tokens').send({ role: 'x', holder: NAME, email: EMAIL });
    await runEveryJob();
    await fuzz(t, { seed: 1, requests: 800 });
    expectNoSecrets();
    expect(lines.filter(({ msg }) => msg === 'request answered').length).toBeGreaterThan(800);
  });

  test('has none either when the database refuses what is written', async () => {
    await query('ALTER TABLE entries ADD CONSTRAINT refused CHECK (false) NOT VALID');
    const before = lines.length;
    const body = {
      carNumber: 'Q1',
      runGroupId: event.novice,
      entrant: { name: NAME, email: EMAIL },
      vehicle: { description: ANSWER, body: 'closed', powertrain: 'combustion' },
    };
    const answer = await t.api('organizer').post(`/v1/events/${event.eventId}/entries`).send(body);
    await query('ALTER TABLE entries DROP CONSTRAINT refused');
    expect(answer.status).toBe(500);
    expect(answer.body).toMatchObject({
      code: 'internal-error',
      detail: 'The server failed. Nothing of this request was kept.',
    });
    expect(lines.slice(before).some(({ level }) => level === 'error')).toBe(true);
    expectNoSecrets();
  });
});

/** The jobs that the run has ordered, as the worker does them, with its log. */
async function runEveryJob(): Promise<void> {
  const rows = await query<{ id: string; name: string; payload: unknown }>(
    'SELECT id::text, name, payload FROM outbox',
  );
  expect(rows.length).toBeGreaterThan(0);
  for (const { id, name, payload } of rows) {
    const job = JOBS.find((one) => one.name === name);
    if (job === undefined) throw new Error(`no job ${name}`);
    const context = { log: t.deps.log, jobId: `outbox-${id}`, requestId: 'request-1', attempt: 1 };
    await (job.handle as (...given: unknown[]) => Promise<void>)(t.deps, job.payload.parse(payload), context);
  }
}

function expectNoSecrets(): void {
  const text = lines.map((line) => JSON.stringify(line)).join('\n');
  for (const [what, secret] of Object.entries({ ...PERSONAL, ...Object.fromEntries(tokens.entries()) })) {
    const at = text.indexOf(secret);
    expect(at === -1 ? '' : `${what}: …${text.slice(Math.max(0, at - 200), at + 60)}`).toBe('');
  }
}
