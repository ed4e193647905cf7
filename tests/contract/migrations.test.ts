import pg from 'pg';
import { afterAll, describe, expect, it } from 'vitest';
import { draftSql } from '../../prisma/drift.ts';
import { readMigrations } from '../../prisma/files.ts';
import { applyMigrations } from '../../prisma/migrate.ts';
import { createTestDatabase, type TestDatabase } from '../support/postgres.ts';

const databases: TestDatabase[] = [];

async function database(options: { empty?: boolean } = {}): Promise<string> {
  const created = await createTestDatabase(options);
  databases.push(created);
  return created.url;
}

async function query<R extends pg.QueryResultRow>(url: string, sql: string): Promise<R[]> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    return (await client.query<R>(sql)).rows;
  } finally {
    await client.end();
  }
}

afterAll(async () => {
  for (const one of databases) await one.drop();
});

describe('migrations', () => {
  it('apply to an empty database once, and the second run applies nothing', async () => {
    const url = await database({ empty: true });
    const names = (await readMigrations()).map((migration) => migration.name);
    expect(names.length).toBeGreaterThan(0);
    expect(await applyMigrations(url)).toEqual({ applied: names });
    expect(await applyMigrations(url)).toEqual({ applied: [] });
    const done = 'SELECT migration_name FROM _prisma_migrations WHERE finished_at IS NOT NULL ORDER BY started_at';
    const rows = await query(url, done);
    expect(rows.map((row) => row['migration_name'])).toEqual(names);
  });

  it('record the checksum that the engine computes', async () => {
    const rows = await query<{ checksum: string }>(
      await database(),
      'SELECT checksum FROM _prisma_migrations ORDER BY 1',
    );
    const expected = (await readMigrations()).map((migration) => migration.checksum).toSorted();
    expect(rows.map((row) => row.checksum)).toEqual(expected);
  });

  it('are applied by exactly one of several processes that start at once', async () => {
    const url = await database({ empty: true });
    const results = await Promise.all([1, 2, 3, 4].map(() => applyMigrations(url)));
    const names = (await readMigrations()).map((migration) => migration.name);
    expect(results.flatMap((result) => result.applied)).toEqual(names);
    const [row] = await query<{ count: string }>(url, 'SELECT count(*) FROM _prisma_migrations');
    expect(Number(row?.count)).toBe(names.length);
  });

  it('of a later version stop a start, in words that say what to do; beside it only what took nothing away may start', async () => {
    const url = await database();
    const later = (name: string) =>
      query(
        url,
        `INSERT INTO _prisma_migrations (id, checksum, migration_name, finished_at, applied_steps_count)
          VALUES ('${name}', repeat('0', 64), '${name}', now(), 1)`,
      );
    await later('29990101000000_more');
    await expect(applyMigrations(url)).rejects.toThrow(
      /^The database is of a later version.* step 29990101000000_more\. .*restore a backup/,
    );
    expect(await applyMigrations(url, undefined, { allowNewer: true })).toEqual({ applied: [] });
    await later('29990102000000_less_contract');
    await expect(applyMigrations(url, undefined, { allowNewer: true })).rejects.toThrow(
      /less_contract\. That step took away what this version needs/,
    );
  });

  it('agree with schema.prisma; the queue has its own schema and does not count', async () => {
    const url = await database();
    const [queue] = await query(url, `SELECT 1 FROM information_schema.schemata WHERE schema_name = 'bullmq'`);
    expect(queue).toBeDefined();
    expect(await draftSql(url)).toBe('');
  });

  it('would show a column that schema.prisma does not know, and a table that the database lacks', async () => {
    const url = await database();
    await query(url, 'ALTER TABLE outbox ADD COLUMN surplus text');
    await query(url, 'DROP TABLE notifications');
    const sql = await draftSql(url);
    expect(sql).toContain('DROP COLUMN "surplus"');
    expect(sql).toContain('CREATE TABLE "notifications"');
  });

  it('refuse a migration that was edited after it was applied', async () => {
    const url = await database();
    await query(url, `UPDATE _prisma_migrations SET checksum = 'other'`);
    await expect(applyMigrations(url)).rejects.toThrow(/was edited after it was applied/);
  });

  it('refuse to go on after a migration that failed', async () => {
    const url = await database();
    await query(url, 'UPDATE _prisma_migrations SET finished_at = NULL');
    await expect(applyMigrations(url)).rejects.toThrow(/failed earlier/);
  });
});
