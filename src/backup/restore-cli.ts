import { resolve } from 'node:path';
import { openPhotoStore } from '../deps.ts';
import { type Restored, restoreBackup } from './restore-backup.ts';
import { type Opened, withDatabase } from './with-database.ts';

// `npm run restore -- <file>`: into an empty database, with the server stopped. 0 when all is back, 1 when it is back but
// a history is not intact or photos were missing in the backup, 2 when nothing was restored.
const path = process.argv[2];

function told({ rows, photos, missingPhotos, migrated, audits }: Restored): string {
  const sum = Object.values(rows).reduce((total, count) => total + count, 0);
  const events = audits.map(({ eventId, intact, head, faults }) => {
    const verdict = intact ? 'intact' : `${faults.length} faults, see npm run audit:verify`;
    return `  history of event ${eventId}: ${verdict}; ${head.seq} ${head.hash}\n`;
  });
  return [
    `restored: ${sum} rows, ${photos} photos, ${audits.length} events\n`,
    ...migrated.map((name) => `  migrated: ${name}\n`),
    ...events,
    ...missingPhotos.map((hash) => `  photo that the backup did not have: ${hash}\n`),
  ].join('');
}

async function restore(file: string, { config, databaseUrl, log }: Opened): Promise<void> {
  const restored = await restoreBackup({ databaseUrl, photos: openPhotoStore(config), path: resolve(file), log });
  process.stdout.write(told(restored));
  const whole = restored.missingPhotos.length === 0 && restored.audits.every((audit) => audit.intact);
  process.exitCode = whole ? 0 : 1;
}

async function main(): Promise<void> {
  if (path === undefined) throw new Error('say which: npm run restore -- <file>');
  await withDatabase({ running: false }, (opened) => restore(path, opened));
}

await main().catch((error: unknown) => {
  process.stderr.write(`not restored: ${error instanceof Error ? error.message : String(error)}\n`);
  process.exitCode = 2;
});
