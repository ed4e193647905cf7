import { randomUUID } from 'node:crypto';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { readMigrations } from '../../prisma/files.ts';
import { type Restored, restoreBackup } from '../../src/backup/restore-backup.ts';
import { MINTED_ROLES } from '../../src/domain/actor.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { openPhotoFolder } from '../../src/platform/photos/photo-store.ts';
import { startTestApp, type TestApp, type TestToken } from '../support/app.ts';
import { GOOD_ANSWERS, type TestEntry, type TestEvent } from '../support/event.ts';
import type { FormView as OwnForm } from '../../src/web/api/operations.ts';
import { joinForm } from '../../src/web/garage/kept/form.ts';
import { createTestDatabase } from '../support/postgres.ts';
import { sql } from '../support/records.ts';

type Car = 'accepted' | 'waiting' | 'barred' | 'drafting' | 'conditional' | 'held' | 'withdrawn' | 'conceded';
interface Then {
  now: string;
  event: TestEvent;
  tokens: Record<'organizer' | 'chief' | 'inspector' | 'marshal', TestToken>;
  cars: Record<Car | 'claimed' | 'refused', TestEntry>;
  rows: Record<string, number>;
  answers: Record<string, Record<string, unknown>>;
}

const FOLDER = join(import.meta.dirname, '../fixtures/upgrade');

interface FormThen {
  items?: Record<string, unknown>[];
}

/**
 * A form asks what the catalogue of today asks, in its words: of each item of then, its place on the car, that the entrant answers it,
 * what was saved and the rules that read it stay.
 */
function asAskedNow(was: Record<string, unknown>, is: FormThen): Record<string, unknown> {
  const { items } = was as FormThen;
  if (items === undefined || is.items === undefined) return was;
  const kept = new Map(items.map((item) => [item['key'], item]));
  const unchanged = ({ key, area, answeredBy: by, saved, rules }: Record<string, unknown>) => {
    // what the entrant said alone the line may answer by now, too
    const answeredBy = by === 'entrant' ? expect.stringMatching(/^(entrant|both)$/u) : by;
    return saved === undefined ? { key, area, answeredBy, rules } : { key, area, answeredBy, saved, rules };
  };
  const expected = is.items.map((item) => {
    const old = kept.get(item['key']);
    kept.delete(item['key']);
    return old === undefined ? { key: item['key'] } : unchanged(old);
  });
  return { ...was, items: [...expected, ...kept.values()] };
}

/** A form with the part that is the same for every car of its group, as a page brings them together. */
async function withQuestions(body: OwnForm): Promise<FormThen> {
  if (body.questions === undefined) return body as unknown as FormThen;
  const { body: questions } = await t.api(then.tokens.organizer).get(body.questions.address);
  return joinForm(body, questions) as unknown as FormThen;
}

let then: Then;
let folder: string;
let restored: Restored;
let t: TestApp;

beforeAll(async () => {
  const kept = await readFile(join(FOLDER, '0.1.0.json'), 'utf8');
  then = JSON.parse(kept, (key, value) => (key === 'claimExpiresAt' ? expect.any(String) : value));
  folder = await mkdtemp(join(tmpdir(), 'gridworthy-upgrade-'));
  const database = await createTestDatabase({ empty: true });
  restored = await restoreBackup({
    databaseUrl: database.url,
    photos: openPhotoFolder(folder),
    path: join(FOLDER, '0.1.0.backup'),
    log: createLogger({ level: 'silent' }),
  });
  t = await startTestApp({ now: then.now, database });
  // Leases end by the database's clock, which goes on: the claims of then are as live as they were.
  await sql(t, `UPDATE claims SET expires_at = now() + interval '1 hour' WHERE ended_at IS NULL`);
});
afterAll(async () => {
  await t.close();
  await rm(folder, { recursive: true, force: true });
});

describe('a database of 0.1.0', () => {
  test('gets every later migration', async () => {
    expect(restored.migrated).toEqual((await readMigrations()).slice(1).map((migration) => migration.name));
    expect(restored.migrated.length).toBeGreaterThan(0);
  });

  test('loses no row', async () => {
    const now: Record<string, number> = {};
    for (const table of Object.keys(then.rows)) {
      const [row] = await sql<{ n: number }>(t, `SELECT count(*)::int AS n FROM public."${table}"`);
      now[table] = row?.n ?? 0;
    }
    expect(now).toEqual({
      ...then.rows,
      _prisma_migrations: 1 + restored.migrated.length,
      // The test's own staff.
      tokens: (then.rows['tokens'] ?? 0) + MINTED_ROLES.length - 1,
    });
  });

  test('has a history that is intact, also as one chain of the event', async () => {
    expect(restored.audits).toMatchObject([{ eventId: then.event.eventId, intact: true, rows: then.rows['history'] }]);
    const answer = await t.api(then.tokens.chief).get(`/v1/events/${then.event.eventId}/audit`);
    expect(answer.body).toMatchObject({ intact: true, faults: [], entries: then.rows['entries'] });
  });

  test('answers every old call as it did, with more perhaps and with nothing less', async () => {
    const paths = Object.keys(then.answers);
    expect(paths.length).toBeGreaterThan(40);
    for (const path of paths) {
      // By now what is met is sent to whoever asks for it.
      const answer = await t
        .api(then.tokens.organizer)
        .get(/\/inspections\b/u.test(path) ? `${path}?findings=all` : path);
      expect(answer.status, path).toBe(200);
      const body = await withQuestions(answer.body);
      expect(body, path).toMatchObject(asAskedNow(then.answers[path] ?? {}, body));
    }
  });

  test('lets the tokens of then in, without an end, and keeps names for the year that is the default', async () => {
    const { body } = await t.api(then.tokens.organizer).get('/v1/tokens?limit=200');
    const own = body.tokens.find((row: { tokenId: string }) => row.tokenId === then.cars.accepted.entrant.tokenId);
    expect(own).toMatchObject({ state: 'live' });
    expect(own).not.toHaveProperty('expiresAt');
    expect((await t.api(then.tokens.organizer).get(`/v1/events/${then.event.eventId}`)).body.retentionDays).toBe(365);
  });
});

describe('goes on', () => {
  const send = (as: TestToken, path: string, body: object) =>
    t.api(as).post(path).set('idempotency-key', randomUUID()).send(body);
  /** What the gate says on the morning of the first day. */
  const gateOf = async (car: TestEntry) => {
    t.clock.set('2026-06-13T08:00:00.000Z');
    const answer = await t.api(then.tokens.marshal).get(`/v1/events/${then.event.eventId}/gate/${car.carNumber}`);
    t.clock.set(then.now);
    return answer.body;
  };

  test('the line: a car that was judged before there were resolved rules is claimed, signed off and admitted', async () => {
    const { waiting } = then.cars;
    const [row] = await sql<{ resolved_hash: string | null }>(
      t,
      'SELECT resolved_hash FROM inspections WHERE entry_id = $1',
      [waiting.entryId],
    );
    expect(row?.resolved_hash).toBeNull();
    const claims = `/v1/events/${then.event.eventId}/line/claims`;
    const claimed = await t.api(then.tokens.inspector).post(claims).send({ carNumber: waiting.carNumber });
    expect(claimed.status).toBe(201);
    const signed = await send(then.tokens.inspector, `/v1/claims/${claimed.body.claimId}/sign-off`, {
      decision: 'accept',
      checks: [],
      stickerNumber: 'UP-1',
    });
    expect(signed.status).toBe(201);
    expect(await gateOf(waiting)).toMatchObject({ admit: true, status: 'clear' });
  });

  test('the entrant: a draft of then is completed and submitted', async () => {
    const { drafting } = then.cars;
    const path = `/v1/entries/${drafting.entryId}/inspections`;
    const submitted = await send(drafting.entrant, path, { answers: GOOD_ANSWERS });
    expect(submitted.status).toBe(201);
    expect(submitted.body.revision).toBe(1);
    expect(await gateOf(drafting)).toMatchObject({ admit: false, status: 'in-line' });
  });

  test('a hold of then is lifted', async () => {
    const { held } = then.cars;
    const entry = await t.api(then.tokens.chief).get(`/v1/entries/${held.entryId}`);
    const lift = await t
      .api(then.tokens.chief)
      .post(`/v1/holds/${entry.body.holds[0].holdId}/lift`)
      .send({ reason: 'wiped and dry' });
    expect(lift.status).toBe(200);
    expect((await gateOf(held)).admit).toBe(true);
  });

  test('a person of then is erased after the event, and all histories stay intact', async () => {
    t.clock.set('2026-06-20T08:00:00.000Z');
    const { accepted } = then.cars;
    const erased = await t
      .api(then.tokens.organizer)
      .post(`/v1/entries/${accepted.entryId}/erase`)
      .send({ reason: 'asked for' });
    expect(erased.status).toBe(200);
    const audit = await t.api(then.tokens.chief).get(`/v1/events/${then.event.eventId}/audit`);
    expect(audit.body.intact).toBe(true);
    expect(audit.body.rows).toBeGreaterThan(then.rows['history'] ?? 0);
  });
});
