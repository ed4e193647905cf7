import { openPhotoStore } from '../deps.ts';
import type { Kept } from './kept-backups.ts';
import { drillKept } from './keep-backups.ts';
import { type Opened, withDatabase } from './database.ts';

// `npm run backup:drill [-- <name>]`: says which backups there are, how old and how good, and brings the newest (or the one
// of this name) back into a scratch database. Also while the server works. 0 when it came back whole, 1 when it could only
// be read because no database may be made, 2 when it cannot be brought back.
const [name] = process.argv.slice(2);

const HOUR_MS = 3_600_000;

function line({ name, startedAt, bytes, encrypted, verified, error }: Kept): string {
  const hours = Math.round((Date.now() - startedAt.getTime()) / HOUR_MS);
  const how = error ?? (verified === null ? 'never brought back' : `${verified} when it was last tried`);
  return `${name}: ${hours} h old, ${bytes} bytes, ${encrypted ? 'encrypted' : 'not encrypted'}, ${how}\n`;
}

async function drill({ config, databaseUrl, log }: Opened): Promise<void> {
  if (config.backup === undefined) throw new Error('BACKUP_TO is not set, so none are made');
  const keeping = { plan: config.backup, databaseUrl, dataDir: config.dataDir, photos: openPhotoStore(config), log };
  const found = await drillKept(keeping, name);
  if (found === undefined) throw new Error('another process makes one or tries one; ask again in a while');
  for (const kept of found.kept) process.stdout.write(line(kept));
  const { of, verified, rows, photos, events } = found;
  process.stdout.write(
    verified === 'restored'
      ? `${of.name} came back: ${rows} rows, ${photos} photos, ${events} histories intact\n`
      : `${of.name} was read to its end: ${rows} rows, ${photos} photos. It was not brought back: the user of DATABASE_URL may make no database (ALTER ROLE … CREATEDB)\n`,
  );
  process.exitCode = verified === 'restored' ? 0 : 1;
}

await withDatabase({ running: true }, drill).catch((error: unknown) => {
  process.stderr.write(
    `no backup that can be brought back: ${error instanceof Error ? error.message : String(error)}\n`,
  );
  process.exitCode = 2;
});
