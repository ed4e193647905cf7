import { randomUUID } from 'node:crypto';
import { mkdtemp, readdir, readFile, rm, truncate, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { isDue, keepBackups } from '../../src/backup/kept-backups.ts';
import { decryptFile, encryptFile } from '../../src/backup/place.ts';
import { drillKept, type Keeping, makeKeptBackup } from '../../src/backup/keep-backups.ts';
import { createLogger } from '../../src/platform/logger.ts';
import { startTestApp, type TestApp } from '../support/app.ts';
import { accept, createTestEntry, createTestEvent } from '../support/event.ts';
import { startFakeObjectStore } from '../support/fake-object-store.ts';
import { sql } from '../support/records.ts';

const PASSPHRASE = 'four plain words here';
let t: TestApp;
let home: string;
let keeping: Keeping;

beforeAll(async () => {
  t = await startTestApp();
  const event = await createTestEvent(t);
  await accept(t, event, await createTestEntry(t, event, { carNumber: '7' }));
  home = await mkdtemp(join(tmpdir(), 'gridworthy-kept-'));
});
beforeEach(async () => {
  await sql(t, 'DELETE FROM backups');
  const folder = await mkdtemp(join(home, 'kept-'));
  keeping = {
    plan: { to: { folder }, everyHours: 24, keep: 2, passphrase: undefined },
    databaseUrl: t.databaseUrl,
    dataDir: join(home, 'data'),
    photos: t.deps.photos,
    log: createLogger({ level: 'silent' }),
  };
});
afterAll(async () => {
  await t.close();
  await rm(home, { recursive: true, force: true });
});

const folderOf = ({ plan }: Keeping) => ('folder' in plan.to ? plan.to.folder : '');
const rowsOf = () => sql<Record<string, unknown>>(t, 'SELECT * FROM backups ORDER BY started_at');
/** Makes what was made so far older, so that the next is another second and may be due. */
const age = (hours: number) => sql(t, `UPDATE backups SET started_at = started_at - interval '${hours} hours'`);

/** Notes one as if it had been made, brought back and kept so many hours ago. */
async function pretend(hours: number, place = folderOf(keeping)): Promise<string> {
  const name = `gridworthy-20200101T00000${hours}Z.backup`;
  await sql(
    t,
    `INSERT INTO backups (id, name, place, encrypted, started_at, finished_at, sha256, bytes, verified)
      VALUES ($1, $2, $3, false, now() - make_interval(hours => $4), now(), repeat('0', 64), 5, 'restored')`,
    [randomUUID(), name, place, hours],
  );
  return name;
}

describe('a kept backup', () => {
  test('is encrypted, brought back from where it lies, and noted', async () => {
    const encrypting = { ...keeping, plan: { ...keeping.plan, passphrase: PASSPHRASE } };
    const made = await makeKeptBackup(encrypting, { ifDue: false });
    expect(made?.drilled).toMatchObject({ verified: 'restored', events: 1 });
    expect(made?.drilled.rows).toBeGreaterThan(20);
    const [name = ''] = await readdir(folderOf(keeping));
    expect(name).toMatch(/^gridworthy-\d{8}T\d{6}Z\.backup\.age$/);
    // Source: the age format, version 1 (its specification C2SP age): first line and the stanza of a passphrase.
    const head = (await readFile(join(folderOf(keeping), name))).toString('latin1', 0, 80);
    expect(head).toMatch(/^age-encryption\.org\/v1\n-> scrypt [A-Za-z0-9+/]{22} \d+\n/);
    const [row] = await rowsOf();
    expect(row).toMatchObject({ name, encrypted: true, verified: 'restored', error: null, sha256: made?.sha256 });
    // Nothing that could be read stays behind, and no scratch database.
    expect(await readdir(join(home, 'data'))).toEqual([]);
    expect(await sql(t, `SELECT 1 FROM pg_database WHERE datname LIKE 'gridworthy_drill%'`)).toEqual([]);
  });

  test('is due by the clock of the database, and after a failure not at once', async () => {
    expect(await isDue(t.deps.db.pool, 24)).toBe(true);
    await pretend(0);
    expect(await makeKeptBackup(keeping, { ifDue: true })).toBeUndefined();
    await age(24);
    const away = { ...keeping, plan: { ...keeping.plan, to: { folder: join(home, 'not-mounted') } } };
    await expect(makeKeptBackup(away, { ifDue: true })).rejects.toThrow(/is not there: mount it/);
    expect(await makeKeptBackup(keeping, { ifDue: true })).toBeUndefined();
    await sql(t, `UPDATE backups SET started_at = started_at - interval '15 minutes' WHERE finished_at IS NULL`);
    expect(await isDue(t.deps.db.pool, 24)).toBe(true);
  });

  test('pushes out the oldest beyond the number, and never a good one for a bad one', async () => {
    for (const hours of [3, 2]) await writeFile(join(folderOf(keeping), await pretend(hours)), 'older');
    await makeKeptBackup(keeping, { ifDue: false });
    await age(1);
    expect(await readdir(folderOf(keeping))).toHaveLength(2);
    const [newest] = (await readdir(folderOf(keeping))).toSorted().toReversed();
    await truncate(join(folderOf(keeping), newest ?? ''), 5000);
    await expect(drillKept(keeping)).rejects.toThrow(/is not what was written there/);
    expect((await rowsOf()).at(-1)).toMatchObject({
      verified: null,
      error: expect.stringContaining('not what was written'),
    });
    await makeKeptBackup(keeping, { ifDue: false });
    // Two that are good, and the bad one, which somebody may want to look at.
    expect(await readdir(folderOf(keeping))).toHaveLength(3);
  });

  test('is made by one process at a time', async () => {
    const both = await Promise.all([1, 2].map(() => makeKeptBackup(keeping, { ifDue: false })));
    expect(both.filter((made) => made !== undefined)).toHaveLength(1);
  });

  test('that nobody may bring back is read, and says so', async () => {
    const role = `reader_${Date.now()}`;
    await sql(t, `CREATE ROLE ${role} LOGIN PASSWORD 'x' IN ROLE pg_read_all_data, pg_write_all_data`);
    const url = Object.assign(new URL(t.databaseUrl), { username: role, password: 'x' }).href;
    const made = await makeKeptBackup({ ...keeping, databaseUrl: url }, { ifDue: false });
    expect(made?.drilled).toMatchObject({ verified: 'read', events: 0 });
    await sql(t, `DROP ROLE ${role}`);
  });
});

describe('in a bucket', () => {
  test('it is put, brought back and removed, signed each time', async () => {
    const store = await startFakeObjectStore();
    const plan = { ...keeping.plan, to: { bucket: store.bucket }, keep: 1 };
    const place = 's3://evidence/club/2026';
    store.objects.set(`/evidence/club/2026/${await pretend(5, place)}`, {
      bytes: Buffer.alloc(1),
      mediaType: undefined,
    });
    const made = await makeKeptBackup({ ...keeping, plan }, { ifDue: false });
    expect(made).toMatchObject({ place, drilled: { verified: 'restored' } });
    expect([...store.objects.keys()]).toEqual([`/evidence/club/2026/${made?.name}`]);
    await store.close();
  });
});

describe('the format of an encrypted backup', () => {
  test('is refused with another passphrase, and when it was cut off', async () => {
    const folder = await mkdtemp(join(home, 'age-'));
    const at = (name: string) => join(folder, name);
    await writeFile(at('plain'), Buffer.alloc(200_000, 7));
    await encryptFile(at('plain'), at('closed'), PASSPHRASE);
    await decryptFile(at('closed'), at('again'), PASSPHRASE);
    expect((await readFile(at('again'))).equals(await readFile(at('plain')))).toBe(true);
    await expect(decryptFile(at('closed'), at('wrong'), 'another sentence')).rejects.toThrow(/passphrase/);
    await truncate(at('closed'), 150_000);
    await expect(decryptFile(at('closed'), at('cut'), PASSPHRASE)).rejects.toThrow();
  });
});

describe('what watches it', () => {
  const collect = async () => (await t.api('organizer').get('/metrics')).text;
  test('metrics say how old and how good the newest is', async () => {
    expect(await collect()).toMatch(/^gridworthy_backup_age_seconds NaN$/m);
    await pretend(3);
    const text = await collect();
    expect(Number(/^gridworthy_backup_age_seconds (.+)$/m.exec(text)?.[1])).toBeCloseTo(3 * 3600, -2);
    expect(text).toMatch(/^gridworthy_backup_good 1$/m);
    expect(text).toMatch(/^gridworthy_backup_failed_since 0$/m);
  });

  test('readiness says ok, late and bad, and nothing where none are made', async () => {
    const ready = async () => (await t.api(undefined).get('/readyz')).body.backup;
    expect(await ready()).toBeUndefined();
    t.deps.config.backup = keeping.plan;
    try {
      expect(await ready()).toBe('late');
      await pretend(1);
      expect(await ready()).toBe('ok');
      await sql(t, `UPDATE backups SET error = 'broken'`);
      expect(await ready()).toBe('bad');
      await age(49);
      expect(await ready()).toBe('late');
    } finally {
      t.deps.config.backup = undefined;
    }
  });
});

describe('the schedule', () => {
  test('starts a process when one is due, says when it failed, and ends it at a stop', async () => {
    const program = join(home, 'program.mjs');
    const lines: string[] = [];
    const log = createLogger({ level: 'info', destination: { write: (line: string) => lines.push(line) } });
    const chore = keepBackups(keeping.plan, { db: t.deps.db, log }, program);
    await writeFile(program, `console.error('no backup: disk full', process.argv[2]); process.exit(2);`);
    await chore(new AbortController().signal);
    expect(lines.join('')).toContain('no backup: disk full --if-due');
    await writeFile(program, `setInterval(() => undefined, 1000);`);
    const stopping = new AbortController();
    const running = chore(stopping.signal);
    setTimeout(() => stopping.abort(), 300);
    await running;
    await pretend(1);
    await writeFile(program, `process.exit(3)`);
    lines.length = 0;
    await chore(new AbortController().signal);
    expect(lines).toEqual([]);
  });
});
