import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import type { BackupPlan } from '../config.ts';
import { openPhotoStore } from '../deps.ts';
import { openedFile, restoreBackup, type Restored } from './restore-backup.ts';
import { inWorkFolder, NAME, openPlace } from './place.ts';
import { type Opened, withDatabase } from './database.ts';

// `npm run restore -- <file>`, or the name of one in BACKUP_TO: into an empty database, with the server stopped. 0 when all is back, 1 when it is back but
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
  const photos = openPhotoStore(config);
  const restored = await inWorkFolder(config.dataDir, async (folder) => {
    const here = await broughtHere(file, folder, config.backup);
    return restoreBackup({ databaseUrl, photos, path: await openedFile(here, folder, config.backupPassphrase), log });
  });
  process.stdout.write(told(restored));
  const whole = restored.missingPhotos.length === 0 && restored.audits.every((audit) => audit.intact);
  process.exitCode = whole ? 0 : 1;
}

/** A name of a backup that is no file here is fetched from where backups are kept. */
async function broughtHere(file: string, folder: string, plan: BackupPlan | undefined): Promise<string> {
  if (existsSync(file) || plan === undefined || !NAME.test(file)) return resolve(file);
  const fetched = join(folder, 'fetched');
  await openPlace(plan).fetch(file, fetched);
  return fetched;
}

async function main(): Promise<void> {
  if (path === undefined) throw new Error('say which: npm run restore -- <file>');
  await withDatabase({ running: false }, (opened) => restore(path, opened));
}

await main().catch((error: unknown) => {
  process.stderr.write(`not restored: ${error instanceof Error ? error.message : String(error)}\n`);
  process.exitCode = 2;
});
