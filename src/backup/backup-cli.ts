import { mkdtemp, rm } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { openPhotoStore } from '../deps.ts';
import { systemClock } from '../platform/clock.ts';
import { encryptFile } from './place.ts';
import { makeKeptBackup } from './keep-backups.ts';
import { type Opened, withDatabase } from './database.ts';
import { writeBackup, type Written } from './write-backup.ts';

// `npm run backup -- <file>`: into this file. `npm run backup`: into BACKUP_TO, brought back once, old ones removed; with
// --if-due only when the last is old enough. Also while the server works. 0 when all is well, 1 when photos were missing,
// 2 when there is no backup that could be brought back.
const [path] = process.argv.slice(2).filter((word) => !word.startsWith('--'));
const ifDue = process.argv.includes('--if-due');

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

async function backUpInto(file: string, { config, databaseUrl }: Opened): Promise<void> {
  const to = resolve(file);
  const write = (at: string) =>
    writeBackup({ databaseUrl, photos: openPhotoStore(config), path: at, now: systemClock.now() });
  const written = await asPlanned(to, config.backupPassphrase, write);
  process.stdout.write(told(written));
  process.exitCode = written.missingPhotos.length === 0 ? 0 : 1;
}

async function asPlanned(
  to: string,
  passphrase: string | undefined,
  write: (at: string) => Promise<Written>,
): Promise<Written> {
  if (passphrase === undefined) return write(to);
  const folder = await mkdtemp(join(dirname(to), '.backup-'));
  try {
    const written = await write(join(folder, 'plain'));
    return { ...written, ...(await encryptFile(written.path, to, passphrase)), path: to };
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

async function backUp({ config, databaseUrl, log }: Opened): Promise<void> {
  if (config.backup === undefined) throw new Error('say where to: npm run backup -- <file>, or set BACKUP_TO');
  const keeping = { plan: config.backup, databaseUrl, dataDir: config.dataDir, photos: openPhotoStore(config), log };
  const made = await makeKeptBackup(keeping, { ifDue });
  if (made === undefined) return void process.stdout.write('none was due, or another process is making one\n');
  const { drilled, removed, place, name } = made;
  process.stdout.write(told({ ...made, path: `${place}/${name}` }));
  process.stdout.write(
    `  brought back: ${drilled.verified}, ${drilled.rows} rows, ${drilled.events} histories intact\n`,
  );
  for (const old of removed) process.stdout.write(`  removed: ${old}\n`);
  process.exitCode = made.missingPhotos.length === 0 ? 0 : 1;
}

await withDatabase({ running: true }, (opened) =>
  path === undefined ? backUp(opened) : backUpInto(path, opened),
).catch((error: unknown) => {
  process.stderr.write(`no backup: ${error instanceof Error ? error.message : String(error)}\n`);
  process.exitCode = 2;
});
