import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { startEmbeddedPostgres } from '../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../src/platform/logger.ts';
import { draftSql } from './drift.ts';
import { applyMigrations } from './migrate.ts';

// Prints the SQL of the next migration: from a throw-away database with all migrations to schema.prisma.
const folder = await mkdtemp(join(tmpdir(), 'gridworthy-diff-'));
// PostgreSQL may run as another user than this process.
await chmod(folder, 0o711);
const log = createLogger({ level: 'error' });
try {
  const database = await startEmbeddedPostgres({ dataDir: join(folder, 'data'), log, settings: { fsync: 'off' } });
  try {
    await applyMigrations(database.url, log);
    const sql = await draftSql(database.url);
    process.stdout.write(sql === '' ? '-- schema.prisma and the migrations agree\n' : `${sql}\n`);
  } finally {
    await database.stop();
  }
} finally {
  await rm(folder, { recursive: true, force: true });
}
