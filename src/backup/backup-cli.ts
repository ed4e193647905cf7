import { resolve } from 'node:path';
import { openPhotoStore } from '../deps.ts';
import { systemClock } from '../platform/clock.ts';
import { type Opened, withDatabase } from './with-database.ts';
import { writeBackup, type Written } from './write-backup.ts';

// `npm run backup -- <file>`: also while the server works. 0 when all is in the file, 1 when photos were missing, 2 when
// there is no backup.
const path = process.argv[2];

function told(written: Written): string {
  const rows = Object.values(written.rows).reduce((sum, count) => sum + count, 0);
  const heads = written.heads.map(({ eventId, seq, hash }) => `  history of event ${eventId}: ${seq} ${hash}\n`);
  const missing = written.missingPhotos.map((hash) => `  missing or damaged photo: ${hash}\n`);
  const { photos, bytes, sha256 } = written;
  return [
    `${written.path}: ${rows} rows, ${photos} photos, ${bytes} bytes\n  SHA-256 ${sha256}\n`,
    ...heads,
    ...missing,
  ].join('');
}

async function backUp(file: string, { config, databaseUrl }: Opened): Promise<void> {
  const photos = openPhotoStore(config);
  const written = await writeBackup({ databaseUrl, photos, path: resolve(file), now: systemClock.now() });
  process.stdout.write(told(written));
  process.exitCode = written.missingPhotos.length === 0 ? 0 : 1;
}

async function main(): Promise<void> {
  if (path === undefined) throw new Error('say where to: npm run backup -- <file>');
  await withDatabase({ running: true }, (opened) => backUp(path, opened));
}

await main().catch((error: unknown) => {
  process.stderr.write(`no backup: ${error instanceof Error ? error.message : String(error)}\n`);
  process.exitCode = 2;
});
