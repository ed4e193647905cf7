import { randomBytes } from 'node:crypto';
import pg from 'pg';
import { inject } from 'vitest';
import './global-setup.ts';

export type TestDatabase = { url: string; drop(): Promise<void> };

/**
 * A database of its own for a test file: a clone of the migrated template, or an empty one. Needs `global-setup.ts`.
 */
export async function createTestDatabase(options: { empty?: boolean } = {}): Promise<TestDatabase> {
  const { adminUrl, template } = inject('testCluster');
  const name = `test_${randomBytes(6).toString('hex')}`;
  await asAdmin(adminUrl, `CREATE DATABASE ${name} TEMPLATE ${options.empty === true ? 'template0' : template}`);
  return {
    url: Object.assign(new URL(adminUrl), { pathname: `/${name}` }).href,
    drop: () => asAdmin(adminUrl, `DROP DATABASE IF EXISTS ${name} WITH (FORCE)`),
  };
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
