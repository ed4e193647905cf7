import pg from 'pg';
import { readMigrations } from '../../prisma/files.ts';
import { applyMigrations } from '../../prisma/migrate.ts';
import { listEvents } from '../features/history/store.ts';
import { auditEvent, type EventAudit } from '../features/history/verify.ts';
import { openDatabase } from '../platform/database/db.ts';
import type { Logger } from '../platform/logger.ts';
import type { PhotoStore } from '../platform/photos/photo-store.ts';
import { decodeRows, END, End, Manifest, MANIFEST, partOf, readArchive, sha256 } from './archive.ts';
import { prepareSchema } from './with-database.ts';
import { countRows, fixFormats, insertRows, listTables, MIGRATIONS_TABLE, settleUnsealed } from './tables.ts';

export interface Restored {
  rows: Record<string, number>;
  photos: number;
  missingPhotos: string[];
  /** migrations of this version that the backup did not have yet */
  migrated: string[];
  audits: EventAudit[];
}

interface Target {
  databaseUrl: string;
  photos: PhotoStore;
  path: string;
  log: Logger;
}

/**
 * Brings a backup back into an empty database, then up to this version, then checks every history. The file is read to
 * its end before anything is written, and rows are written in one transaction: all of them or none.
 *
 * @throws Error when the backup is damaged or of a later version, the database is not empty, or the photos of another
 *   database lie there; then the database is as it was
 */
export async function restoreBackup(target: Target): Promise<Restored> {
  const checked = await checkBackup(target.path);
  await assertKnown(checked.manifest);
  const client = new pg.Client({ connectionString: target.databaseUrl, application_name: 'gridworthy-restore' });
  client.on('error', () => undefined);
  await client.connect();
  try {
    await client.query('BEGIN');
    await fixFormats(client);
    await prepareSchema(client, checked.manifest.migrations);
    await assertSameTables(client, checked.manifest);
    await load(client, target, checked);
    await client.query('COMMIT');
  } finally {
    // Ends the transaction where it was not committed.
    await client.end();
  }
  const { applied } = await applyMigrations(target.databaseUrl, target.log);
  const { rows, photos, missingPhotos } = checked.end;
  return { rows, photos, missingPhotos, migrated: applied, audits: await auditAll(target) };
}

async function assertKnown(manifest: Manifest): Promise<void> {
  const known = new Map((await readMigrations()).map(({ name, checksum }) => [name, checksum]));
  for (const { name, checksum } of manifest.migrations) {
    if (known.get(name) === checksum) continue;
    throw new Error(`it was made by a later version: this one does not know its migration ${name}`);
  }
}

async function assertSameTables(client: pg.Client, manifest: Manifest): Promise<void> {
  const text = (tables: Manifest['tables']) => tables.map(({ name, columns }) => `${name}(${columns.join()})`).sort();
  const here = text(await listTables(client));
  const differs = text(manifest.tables).find((table, i) => table !== here[i]) ?? here[manifest.tables.length];
  if (differs !== undefined) throw new Error(`the tables are not those of its migrations: ${differs}`);
}

async function load(client: pg.Client, { path, photos }: Target, { manifest, end }: CheckedBackup): Promise<void> {
  let claimed = false;
  for await (const { name, bytes } of readArchive(path)) {
    const part = partOf(name);
    if (part === undefined) continue;
    if ('table' in part) {
      await insertRows(client, part.table, decodeRows(bytes));
      continue;
    }
    if (!claimed) await claimPhotos(client, photos);
    claimed = true;
    await photos.put(part.photo, bytes);
  }
  for (const { name } of manifest.tables) {
    const count = await countRows(client, name);
    if (count !== end.rows[name]) throw new Error(`${name} has ${count} rows instead of ${end.rows[name]}`);
  }
  await settleUnsealed(client);
  // The queue is not in the backup: what it had not finished is given to it again, and every job may run twice.
  await client.query('UPDATE outbox SET published_at = NULL WHERE done_at IS NULL');
}

/** The first migration's row names a database; see `claimFolder` of the photos. */
async function claimPhotos(client: pg.Client, { folder }: PhotoStore): Promise<void> {
  const { rows } = await client.query<{ id: string }>(
    `SELECT id FROM public.${MIGRATIONS_TABLE} ORDER BY started_at, id LIMIT 1`,
  );
  const name = rows[0]?.id;
  if (folder === undefined || name === undefined || (await folder.claim(name))) return;
  throw new Error('the folder of the photos belongs to another database');
}

async function auditAll({ databaseUrl, log }: Target): Promise<EventAudit[]> {
  const db = openDatabase({ url: databaseUrl, poolSize: 2, log });
  try {
    const audits: EventAudit[] = [];
    for (const { eventId } of await listEvents(db.prisma)) audits.push(await auditEvent(db.prisma, eventId));
    return audits;
  } finally {
    await db.close();
  }
}

interface CheckedBackup {
  manifest: Manifest;
  end: End;
}

/**
 * Reads a backup from its first to its last byte and holds everything against its sums, so that nothing of a damaged
 * one is ever written anywhere.
 *
 * @throws Error saying what does not fit
 */
export async function checkBackup(path: string): Promise<CheckedBackup> {
  let manifest: Manifest | undefined;
  let end: End | undefined;
  const files: { name: string; sha256: string }[] = [];
  const rows: Record<string, number> = {};
  let photos = 0;
  for await (const { name, bytes } of readArchive(path)) {
    if (end !== undefined) throw new Error(`it goes on after its end, with ${name}`);
    if (name === END) {
      end = End.parse(JSON.parse(bytes.toString('utf8')));
      continue;
    }
    files.push({ name, sha256: sha256(bytes) });
    if (name === MANIFEST) manifest = parseManifest(bytes);
    else if (manifest === undefined) throw new Error('it does not begin with its manifest');
    else photos += countPart(rows, name, bytes);
  }
  if (manifest === undefined) throw new Error('it has no manifest');
  if (end === undefined) throw new Error('it was cut off: its end is missing');
  assertFits({ manifest, end }, { files, rows, photos });
  return { manifest, end };
}

function parseManifest(bytes: Buffer): Manifest {
  const parsed = Manifest.safeParse(JSON.parse(bytes.toString('utf8')));
  if (parsed.success) return parsed.data;
  throw new Error('it was made by a version that this one does not know, or is no backup', { cause: parsed.error });
}

/** Counts the rows of a part of a table; returns 1 for a photo. */
function countPart(rows: Record<string, number>, name: string, bytes: Buffer): 0 | 1 {
  const part = partOf(name);
  if (part === undefined) throw new Error(`there is a file that does not belong to it: ${name}`);
  if ('photo' in part) {
    if (sha256(bytes) !== part.photo) throw new Error(`photo ${part.photo} is not what was stored`);
    return 1;
  }
  rows[part.table] = (rows[part.table] ?? 0) + decodeRows(bytes).length;
  return 0;
}

function assertFits(
  { manifest, end }: CheckedBackup,
  found: { files: readonly { name: string; sha256: string }[]; rows: Record<string, number>; photos: number },
): void {
  const changed = found.files.find(
    ({ name, sha256: sum }, i) => end.files[i]?.name !== name || end.files[i].sha256 !== sum,
  );
  if (changed !== undefined) throw new Error(`${changed.name} was changed`);
  if (found.files.length !== end.files.length) throw new Error('files are missing');
  if (found.photos !== end.photos) throw new Error('photos are missing');
  const named = new Set(manifest.tables.map((table) => table.name));
  for (const table of new Set([...named, ...Object.keys(end.rows), ...Object.keys(found.rows)])) {
    const fits = named.has(table) && (found.rows[table] ?? 0) === end.rows[table];
    if (!fits) throw new Error(`the rows of ${table} are not those that were written`);
  }
}
