import { randomBytes } from 'node:crypto';
import pg from 'pg';
import { inject } from 'vitest';
import './setup/database.ts';

export type TestDatabase = { url: string; drop(): Promise<void> };

/**
 * A database of its own for a test file: a clone of the migrated template or of another that nobody is connected to, or
 * an empty one. Needs `setup/database.ts`.
 */
export async function createTestDatabase(
  options: { empty?: boolean; cloneOf?: string } = {},
): Promise<TestDatabase & { name: string }> {
  const { adminUrl, template } = inject('testCluster');
  const source = options.empty === true ? 'template0' : (options.cloneOf ?? template);
  const name = `test_${randomBytes(6).toString('hex')}`;
  await asAdmin(adminUrl, `CREATE DATABASE ${name} TEMPLATE ${source}`);
  return {
    name,
    url: Object.assign(new URL(adminUrl), { pathname: `/${name}` }).href,
    drop: () => asAdmin(adminUrl, `DROP DATABASE IF EXISTS ${name} WITH (FORCE)`),
  };
}

/** Leaves a database as the template was: every table of ours empty, whatever triggers forbid. */
export async function emptyTables(url: string): Promise<void> {
  await asAdmin(
    url,
    `DO $$ BEGIN EXECUTE (
       SELECT 'TRUNCATE ' || string_agg(format('%I.%I', schemaname, tablename), ', ') || ' RESTART IDENTITY'
         FROM pg_tables WHERE schemaname IN ('public', 'bullmq') AND tablename <> '_prisma_migrations'
     ); END $$`,
  );
}

async function asAdmin(url: string, sql: string): Promise<void> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    await client.query(sql);
  } finally {
    await client.end();
  }
}
