import type pg from 'pg';
import { readMigrations } from '../../prisma/files.ts';
import type { Manifest } from './manifest.ts';
import { countRows, listMigrations, listTables, MIGRATIONS_TABLE } from './tables.ts';

/** As Prisma's engine makes it. */
const MIGRATIONS_DDL = `CREATE TABLE public."${MIGRATIONS_TABLE}" (
  "id" VARCHAR(36) PRIMARY KEY NOT NULL,
  "checksum" VARCHAR(64) NOT NULL,
  "finished_at" TIMESTAMPTZ,
  "migration_name" VARCHAR(255) NOT NULL,
  "logs" TEXT,
  "rolled_back_at" TIMESTAMPTZ,
  "started_at" TIMESTAMPTZ NOT NULL DEFAULT now(),
  "applied_steps_count" INTEGER NOT NULL DEFAULT 0
)`;

/**
 * Makes the tables of a backup, in the caller's transaction: a database without tables gets those of the backup's
 * migrations, so that a backup of an earlier version fits; one that has exactly these migrations and no rows is used as
 * it is. Either way the list of migrations is left empty for the backup's own.
 *
 * @throws Error when the database has rows, or other tables
 */
export async function prepareSchema(client: pg.ClientBase, wanted: Manifest['migrations']): Promise<void> {
  const tables = await listTables(client);
  if (tables.length === 0) return createTables(client, wanted);
  for (const { name } of tables) {
    if (name === MIGRATIONS_TABLE) continue;
    const count = await countRows(client, name);
    if (count > 0) throw new Error(`the database is not empty: ${name} has ${count} rows`);
  }
  const here = tables.some(({ name }) => name === MIGRATIONS_TABLE) ? await listMigrations(client) : [];
  const same = here.length === wanted.length && wanted.every(({ name }, i) => here[i]?.name === name);
  if (!same) throw new Error('the database has tables of another version: restore into one without tables');
  await client.query(`DELETE FROM public."${MIGRATIONS_TABLE}"`);
}

async function createTables(client: pg.ClientBase, wanted: Manifest['migrations']): Promise<void> {
  const names = new Set(wanted.map((migration) => migration.name));
  for (const { name, sql } of await readMigrations()) if (names.has(name)) await client.query(sql);
  await client.query(MIGRATIONS_DDL);
}
