import { execFile } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtemp, readdir, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { gunzipSync, gzipSync } from 'node:zlib';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { checkBackup, restoreBackup, type Restored } from '../../src/backup/restore-backup.ts';
import { writeBackup, type Written } from '../../src/backup/write-backup.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { openPhotoFolder } from '../../src/platform/photos/photo-store.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import {
  accept,
  createTestEntry,
  createTestEvent,
  GOOD_ANSWERS,
  submit,
  type TestEntry,
  type TestEvent,
} from '../support/event.ts';
import { makePhoto, sendPhoto } from '../support/photos.ts';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';
import { historyOf, sql } from '../support/records.ts';
import { signed } from '../support/sealed.ts';
import { waitFor } from '../support/wait.ts';

const DAY = '2026-06-13T08:00:00.000Z';

let t: TestApp;
let event: TestEvent;
let cars: TestEntry[];
let folder: string;
let photo: { photoId: string; bytes: Buffer };
const apps: TestApp[] = [];

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'gridworthy-backup-'));
  t = await startTestApp();
  event = await createTestEvent(t);
  cars = [];
  for (const carNumber of ['1', '01', '2', '3', '4']) cars.push(await createTestEntry(t, event, { carNumber }));
  const [accepted, conditional, held, barred] = cars as [TestEntry, TestEntry, TestEntry, TestEntry];
  const bytes = await makePhoto({ seed: 7 });
  const sent = await sendPhoto(t, accepted.entrant, accepted.entryId, bytes, { position: 'FL.in' });
  photo = { photoId: sent.body.photoId, bytes: (await t.api('chief').get(`/v1/photos/${sent.body.photoId}`)).body };
  await accept(t, event, accepted);
  const conditions = [{ text: 'torque "again" \\ and, {again}' }];
  // S1 and S01 would be one sticker.
  const body = { decision: 'accept-with-conditions', conditions, stickerNumber: 'C01' };
  await accept(t, event, conditional, body);
  await accept(t, event, held);
  await t.api('inspector').post(`/v1/entries/${held.entryId}/holds`).send({ reason: 'Öl\ton\nthe "track" ☂' });
  const thin = { ...GOOD_ANSWERS['pad.thickness'], 'FL.in': 2 };
  await submit(t, barred, { ...GOOD_ANSWERS, 'pad.thickness': thin });
});
afterAll(async () => {
  for (const app of apps) await app.close();
  await t.close();
  await rm(folder, { recursive: true, force: true });
});

const backUp = (name: string): Promise<Written> =>
  writeBackup({
    databaseUrl: t.databaseUrl,
    photos: t.deps.photos,
    path: join(folder, name),
    now: t.clock.now(),
  });

async function restoreInto(database: TestDatabase, name: string, photos = join(folder, `photos of ${name}`)) {
  const log = createLogger({ level: 'silent' });
  return restoreBackup({ databaseUrl: database.url, photos: openPhotoFolder(photos), path: join(folder, name), log });
}

/** Brings a backup back somewhere else and starts the service there. */
async function elsewhere(name: string): Promise<{ app: TestApp; restored: Restored }> {
  const database = await createTestDatabase({ empty: true });
  const dataDir = join(folder, `data of ${name}`);
  const restored = await restoreInto(database, name, join(dataDir, 'photos'));
  const app = await startTestApp({ database, config: { dataDir } });
  apps.push(app);
  return { app, restored };
}

async function gateList(app: TestApp) {
  app.clock.set(DAY);
  const { body } = await app.api('marshal').get(`/v1/events/${event.eventId}/gate`).expect(200);
  return body;
}

describe('a backup while somebody writes', () => {
  test('is one moment of the database: restored elsewhere, every history is intact', async () => {
    const state = { writing: true, written: 0 };
    const writer = async () => {
      while (state.writing) {
        const entry = await createTestEntry(t, event, { carNumber: `W${state.written}` });
        await submit(t, entry);
        await t.api('chief').post(`/v1/entries/${entry.entryId}/holds`).send({ reason: 'in the way' });
        state.written += 1;
      }
    };
    const work = writer();
    await waitFor('the first cars', () => state.written >= 2);
    const backup = await backUp('live.backup');
    const then = state.written;
    await waitFor('one more car', () => state.written > then);
    state.writing = false;
    await work;
    const { app, restored } = await elsewhere('live.backup');
    expect(restored.audits).toMatchObject([{ eventId: event.eventId, intact: true, faults: [] }]);
    expect(restored.audits[0]?.head).toEqual({ seq: backup.heads[0]?.seq, hash: backup.heads[0]?.hash });
    // The moment lies between the first car of the writer and the last.
    const entries = await app.deps.db.prisma.entry.findMany();
    expect(entries.length).toBeGreaterThanOrEqual(cars.length + 2);
    expect(entries.length).toBeLessThan(cars.length + state.written);
    for (const { id } of entries) {
      const then = (await historyOf(app, id)).map((row) => row.hash);
      expect((await historyOf(t, id)).map((row) => row.hash).slice(0, then.length)).toEqual(then);
    }
  });
});

describe('a restored backup', () => {
  let backup: Written;
  let app: TestApp;
  let restored: Restored;

  beforeAll(async () => {
    await signed(t);
    backup = await backUp('whole.backup');
    ({ app, restored } = await elsewhere('whole.backup'));
  });

  test('has every row of every table, the same to the last byte', async () => {
    const names = Object.keys(backup.rows);
    expect(names).toEqual(
      expect.arrayContaining(['history', 'tokens', 'photos', 'resolved_rules', 'event_leaves', 'event_heads']),
    );
    for (const name of names.filter((name) => name !== 'outbox' && name !== 'tokens')) {
      const text = `SELECT r::text AS row FROM public."${name}" r ORDER BY 1`;
      expect(await sql(app, text), name).toEqual(await sql(t, text));
    }
    expect(restored.rows).toEqual(backup.rows);
  });

  test('answers at the gate what the old one answers, for every car', async () => {
    const { asOf: _then, ...before } = await gateList(t);
    const { asOf: _now, ...after } = await gateList(app);
    expect(after).toEqual(before);
    const statuses = new Set(before.entries.map((entry: { status: string }) => entry.status));
    expect([...statuses]).toEqual(expect.arrayContaining(['clear', 'clear-with-conditions', 'held', 'barred']));
    for (const { carNumber } of before.entries as { carNumber: string }[]) {
      const path = `/v1/events/${event.eventId}/gate/${carNumber}`;
      const [one, other] = [await t.api('marshal').get(path), await app.api('marshal').get(path)];
      expect(other.body).toEqual(one.body);
    }
  });

  test('lets the tokens of before in, and shows the photos', async () => {
    const [accepted] = cars as [TestEntry];
    app.clock.set('2026-06-10T08:00:00.000Z');
    const picture = await app.api(accepted.entrant).get(`/v1/photos/${photo.photoId}`);
    expect(picture.status).toBe(200);
    expect(picture.body).toEqual(photo.bytes);
    // and takes new ones: the folder is its own
    const more = await sendPhoto(app, accepted.entrant, accepted.entryId, await makePhoto({ seed: 9 }));
    expect(more.status).toBe(201);
  });

  test('gives jobs to the queue again that were not finished', async () => {
    const open = 'SELECT count(*)::int AS n FROM outbox WHERE done_at IS NULL';
    const unpublished = `${open} AND published_at IS NULL`;
    expect(await sql(app, open)).toEqual(await sql(t, open));
    expect(await sql(app, unpublished)).toEqual(await sql(app, open));
  });

  test('refuses changes of what never changes, as before', async () => {
    await expect(sql(app, `UPDATE history SET action = 'x'`)).rejects.toThrow(/append-only/);
    await expect(sql(app, 'DELETE FROM inspections')).rejects.toThrow(/append-only/);
  });

  test('goes into a migrated database without rows as well', async () => {
    const database = await createTestDatabase();
    try {
      const again = await restoreInto(database, 'whole.backup', join(folder, 'photos migrated'));
      expect(again.rows).toEqual(backup.rows);
      expect(again.audits.every((audit) => audit.intact)).toBe(true);
    } finally {
      await database.drop();
    }
  });
});

describe('refused before anything is written', () => {
  let whole: Buffer;
  let database: TestDatabase;
  let photos: string;

  beforeAll(async () => {
    await backUp('sound.backup');
    whole = await readFile(join(folder, 'sound.backup'));
    database = await createTestDatabase({ empty: true });
    photos = join(folder, 'photos of refused');
  });
  afterAll(() => database.drop());

  /** Refuses the file, and leaves database and folder as empty as they were. */
  async function expectRefused(bytes: Buffer, says = /./): Promise<void> {
    const path = join(folder, 'bad.backup');
    await writeFile(path, bytes);
    await expect(checkBackup(path)).rejects.toThrow(says);
    await expect(restoreInto(database, 'bad.backup', photos)).rejects.toThrow(says);
    expect(await countTables(database)).toBe(0);
    await expect(readdir(photos)).rejects.toThrow(/ENOENT/);
  }

  test.each([0, 0.001, 0.25, 0.5, 0.75, 0.99])('a file that was cut off after %s of it', async (share) => {
    await expectRefused(whole.subarray(0, Math.floor(whole.length * share)));
  });

  test('a file without its last bytes', async () => {
    for (const less of [1, 4, 8, 9, 600]) await expectRefused(whole.subarray(0, whole.length - less));
  });

  test('a file in which one byte was changed', async () => {
    // Bytes 4 to 9 of a gzip header are a time and a system, which say nothing about the content (RFC 1952, 2.3).
    for (let i = 0; i < 40; i += 1) {
      const at = 10 + Math.floor(((whole.length - 10) * i) / 40);
      const changed = Buffer.from(whole);
      changed.writeUInt8(changed.readUInt8(at) ^ 0x10, at);
      await expectRefused(changed);
    }
  });

  test('a file in which one row was changed and everything around it made to fit again', async () => {
    const tar = gunzipSync(whole);
    const at = tar.indexOf('Test circuit');
    expect(at).toBeGreaterThan(0);
    tar.write('X', at);
    await expectRefused(gzipSync(tar), /was changed/);
  });

  test('a file that is something else', async () => {
    await expectRefused(Buffer.from('no archive at all'), /./);
    await expectRefused(gzipSync(Buffer.from('no archive at all')), /too early/);
    await expectRefused(gzipSync(Buffer.alloc(1024)), /no manifest/);
  });

  test('a backup of a later version', async () => {
    const own = await createTestDatabase();
    const client = new pg.Client({ connectionString: own.url });
    await client.connect();
    await client.query(`INSERT INTO _prisma_migrations (id, checksum, finished_at, migration_name)
      VALUES ('later', repeat('a', 64), now(), '29991231000000_later')`);
    await client.end();
    const { photos: store } = t.deps;
    const path = join(folder, 'later.backup');
    await writeBackup({ databaseUrl: own.url, photos: store, path, now: t.clock.now() });
    await own.drop();
    await expect(restoreInto(database, 'later.backup', photos)).rejects.toThrow(/later version.*29991231000000_later/);
    expect(await countTables(database)).toBe(0);
  });

  test('a database that is not empty, which stays as it is', async () => {
    const used = await startTestApp({ own: true });
    try {
      const log = createLogger({ level: 'silent' });
      const path = join(folder, 'sound.backup');
      const before = await used.deps.db.prisma.token.count();
      const restoring = restoreBackup({ databaseUrl: used.databaseUrl, photos: used.deps.photos, path, log });
      await expect(restoring).rejects.toThrow(/not empty: tokens has 4 rows/);
      expect(await used.deps.db.prisma.token.count()).toBe(before);
      expect((await used.api('organizer').get('/v1/events')).body.events).toEqual([]);
    } finally {
      await used.close();
    }
  });

  test('photos beside those of another database: the rows are not kept either', async () => {
    await openPhotoFolder(join(folder, 'taken')).folder.claim('another database');
    await expect(restoreInto(database, 'sound.backup', join(folder, 'taken'))).rejects.toThrow(/another database/);
    expect(await countTables(database)).toBe(0);
  });
});

describe('writing a backup', () => {
  test('never replaces a file, keeps others from reading it, and leaves nothing half', async () => {
    const written = await backUp('once.backup');
    await expect(backUp('once.backup')).rejects.toThrow(/exists already/);
    const bytes = await readFile(written.path);
    expect(createHash('sha256').update(bytes).digest('hex')).toBe(written.sha256);
    expect(bytes.length).toBe(written.bytes);
    expect((await stat(written.path)).mode & 0o777).toBe(0o600);
    await expect(backUp('no such folder/x.backup')).rejects.toThrow(/ENOENT/);
    expect((await readdir(folder)).filter((name) => name.endsWith('.partial'))).toEqual([]);
  });

  test('is a gzipped tar archive that other programs list', async () => {
    const { path } = await backUp('listed.backup');
    const { stdout } = await promisify(execFile)('tar', ['-tzf', path]);
    const names = stdout.trim().split('\n');
    expect(names[0]).toBe('manifest.json');
    expect(names.at(-1)).toBe('end.json');
    expect(names).toContain('tables/history/000001.jsonl');
  });

  test('names a photo that the store lost, and has all the rest', async () => {
    const lost = openPhotoFolder(join(folder, 'empty'));
    const path = join(folder, 'lost.backup');
    const written = await writeBackup({ databaseUrl: t.databaseUrl, photos: lost, path, now: t.clock.now() });
    const [row] = await sql<{ hash: string }>(t, 'SELECT content_hash AS hash FROM photos');
    expect(written).toMatchObject({ photos: 0, missingPhotos: [row?.hash] });
    expect((await checkBackup(path)).end.missingPhotos).toEqual([row?.hash]);
  });

  test('needs a database with the service in it', async () => {
    const empty = await createTestDatabase({ empty: true });
    const path = join(folder, 'nothing.backup');
    const writing = writeBackup({ databaseUrl: empty.url, photos: t.deps.photos, path, now: t.clock.now() });
    await expect(writing).rejects.toThrow(/nothing to back up/);
    await empty.drop();
  });
});

async function countTables({ url }: TestDatabase): Promise<number> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  const { rows } = await client.query<{ n: number }>(
    `SELECT count(*)::int AS n FROM pg_tables WHERE schemaname = 'public'`,
  );
  await client.end();
  return rows[0]?.n ?? 0;
}
