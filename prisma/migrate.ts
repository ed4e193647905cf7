import { join } from 'node:path';
import type { MigrationList } from '@prisma/schema-engine-wasm';
import pg from 'pg';
import type { Logger } from '../src/platform/logger.ts';
import { CannotStart } from '../src/platform/process-life.ts';
import { type Migration, prismaFolder, readMigrations } from './files.ts';

type HistoryRow = { name: string; checksum: string; done: boolean };

// Any fixed number that nothing else in the database uses.
const LOCK_KEY = 4_021_177_305;
const LOCK_TIMEOUT = '120s';

/**
 * Brings a database to the newest migration, with Prisma's own engine, so that `prisma migrate deploy` sees the same
 * history. Several processes may call it at once: one works, the others wait and find nothing to do. When the history
 * already lists every migration, the engine is not even loaded.
 *
 * @param options `allowNewer`: go on with a database of a later version, as long as none of its steps took anything away
 * @throws CannotStart when the database is of a later version
 * @throws Error when a migration fails (nothing of it stays), failed earlier, or was edited after it was applied
 */
export async function applyMigrations(
  databaseUrl: string,
  log?: Logger,
  options: { allowNewer?: boolean } = {},
): Promise<{ applied: string[] }> {
  const startedAt = performance.now();
  const migrations = await readMigrations();
  const client = new pg.Client({ connectionString: databaseUrl, connectionTimeoutMillis: 10_000 });
  // An error that no query waits for must not end the process; the next query reports it.
  client.on('error', () => undefined);
  await client.connect();
  try {
    const found = await readHistory(client);
    assertNotNewer(found, migrations, options.allowNewer === true);
    if (isComplete(found, migrations)) return { applied: [] };
    await client.query(`SET lock_timeout = '${LOCK_TIMEOUT}'`);
    await client.query('SELECT pg_advisory_lock($1)', [LOCK_KEY]);
    const history = await readHistory(client);
    assertSound(history, migrations);
    if (isComplete(history, migrations)) return { applied: [] };
    const applied = await runEngine(databaseUrl, migrations);
    log?.info({ applied, ms: Math.round(performance.now() - startedAt) }, 'migrations applied');
    return { applied };
  } finally {
    // Ends the session and with it the lock.
    await client.end();
  }
}

async function readHistory(client: pg.Client): Promise<HistoryRow[]> {
  const found = await client.query<{ table: string | null }>(
    `SELECT to_regclass('public._prisma_migrations') AS table`,
  );
  if (found.rows[0]?.table == null) return [];
  const { rows } = await client.query<HistoryRow>(
    `SELECT migration_name AS name, checksum, finished_at IS NOT NULL AS done
       FROM public._prisma_migrations WHERE rolled_back_at IS NULL`,
  );
  return rows;
}

// An unfinished row may belong to a process that works on it right now, so it only reads as "not complete".
function isComplete(history: readonly HistoryRow[], migrations: readonly Migration[]): boolean {
  const applied = new Map(history.map((row) => [row.name, row.checksum]));
  return history.every((row) => row.done) && migrations.every((one) => applied.get(one.name) === one.checksum);
}

/** What a step is named that takes away what an earlier version reads or writes. */
const CONTRACT = /_contract$/;

function assertNotNewer(history: readonly HistoryRow[], migrations: readonly Migration[], allowed: boolean): void {
  const known = new Set(migrations.map(({ name }) => name));
  const later = history.map(({ name }) => name).filter((name) => !known.has(name));
  const [first] = later;
  if (first === undefined) return;
  const gone = later.find((name) => CONTRACT.test(name));
  if (allowed && gone === undefined) return;
  const what = `The database is of a later version of Gridworthy: this one does not know its step ${gone ?? first}.`;
  throw new CannotStart(
    gone === undefined
      ? `${what} Start that version or a later one, or restore a backup of before. NEWER_DATABASE=allow starts this one beside it for the time of a change.`
      : `${what} That step took away what this version needs: start that version or a later one, or restore a backup of before.`,
  );
}

function assertSound(history: readonly HistoryRow[], migrations: readonly Migration[]): void {
  for (const row of history) {
    if (!row.done) throw new Error(`Migration ${row.name} failed earlier; repair the database or restore a backup`);
    const file = migrations.find((one) => one.name === row.name);
    if (file !== undefined && file.checksum !== row.checksum) {
      throw new Error(
        `Migration ${row.name} was edited after it was applied; restore the file and add a new migration`,
      );
    }
  }
}

async function runEngine(databaseUrl: string, migrations: readonly Migration[]): Promise<string[]> {
  // Loaded only when there is work: most starts have none.
  const { withSchemaEngine } = await import('./schema-engine.ts');
  const output = await withSchemaEngine(databaseUrl, (engine) =>
    engine.applyMigrations({
      migrationsList: toMigrationList(migrations),
      filters: { externalTables: [], externalEnums: [] },
    }),
  );
  return output.appliedMigrationNames;
}

function toMigrationList(migrations: readonly Migration[]): MigrationList {
  return {
    baseDir: join(prismaFolder(), 'migrations'),
    lockfile: { path: 'migration_lock.toml', content: 'provider = "postgresql"\n' },
    shadowDbInitScript: '',
    migrationDirectories: migrations.map(({ name, sql }) => ({
      path: name,
      migrationFile: { path: 'migration.sql', content: { tag: 'ok', value: sql } },
    })),
  };
}
