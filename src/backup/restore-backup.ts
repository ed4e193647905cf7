import { createHash } from 'node:crypto';
import { join } from 'node:path';
import pg from 'pg';
import { readMigrations } from '../../prisma/files.ts';
import { applyMigrations } from '../../prisma/migrate.ts';
import { listEvents } from '../features/history/store.ts';
import { auditEvent, type EventAudit } from '../features/history/verify.ts';
import { openDatabase } from '../platform/database/db.ts';
import type { Logger } from '../platform/logger.ts';
import { assertContent, type PhotoStore } from '../platform/photos/photo-store.ts';
import { decodeRows, END, End, Manifest, MANIFEST, partOf, readArchive, sha256 } from './archive.ts';
import {
  countRows,
  fixFormats,
  insertRows,
  listTables,
  MIGRATIONS_TABLE,
  prepareSchema,
  settleUnsealed,
} from './database.ts';
import type { Verified } from './kept-backups.ts';
import { decryptFile, isEncrypted } from './place.ts';

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

export interface Drilled {
  verified: Verified;
  rows: number;
  photos: number;
  /** histories that were held against what was written; 0 when it was only read */
  events: number;
}

/** Nothing may create a database for us: insufficient_privilege, in PostgreSQL's list of error codes. */
const NOT_ALLOWED = '42501';

/**
 * Brings a backup back into a scratch database beside the one that works, looks at every history, and takes it away again.
 * Where the server's user may not make a database, the backup is read from its first to its last byte instead.
 *
 * @param from `folder` of the caller's, for the decrypted file
 * @throws Error saying what is wrong with the backup
 */
export async function drillBackup(from: {
  file: string;
  folder: string;
  passphrase: string | undefined;
  databaseUrl: string;
  log: Logger;
}): Promise<Drilled> {
  const path = await openedFile(from.file, from.folder, from.passphrase);
  const { end } = await checkBackup(path);
  const rows = Object.values(end.rows).reduce((sum, count) => sum + count, 0);
  const read = { rows, photos: end.photos, events: 0 };
  const scratch = await makeScratch(from.databaseUrl);
  if (scratch === undefined) return { verified: 'read', ...read };
  try {
    const { audits } = await restoreBackup({ databaseUrl: scratch.url, photos: NOWHERE, path, log: from.log });
    const broken = audits.find((audit) => !audit.intact);
    if (broken !== undefined) throw new Error(`the history of event ${broken.eventId} is not intact in it`);
    return { verified: 'restored', ...read, events: audits.length };
  } finally {
    await scratch.drop();
  }
}

/** The file as it can be read: itself, or decrypted into the folder. */
export async function openedFile(file: string, folder: string, passphrase: string | undefined): Promise<string> {
  if (!(await isEncrypted(file))) return file;
  if (passphrase === undefined) throw new Error('it is encrypted: set BACKUP_PASSPHRASE');
  const plain = join(folder, 'opened.backup');
  await decryptFile(file, plain, passphrase);
  return plain;
}

/** Photos are held against their names and kept nowhere. */
const NOWHERE: PhotoStore = {
  put: async (hash, bytes) => void assertContent(hash, bytes),
  get: async () => undefined,
};

async function makeScratch(databaseUrl: string): Promise<{ url: string; drop(): Promise<void> } | undefined> {
  // One for each database that works here, so that what a try that was cut off left is found and taken away.
  const name = `gridworthy_drill_${createHash('sha256').update(new URL(databaseUrl).pathname).digest('hex').slice(0, 12)}`;
  const run = async (sql: string) => {
    const client = new pg.Client({ connectionString: databaseUrl, application_name: 'gridworthy-drill' });
    client.on('error', () => undefined);
    await client.connect();
    try {
      await client.query(sql);
    } finally {
      await client.end();
    }
  };
  const drop = () => run(`DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
  try {
    await drop();
    await run(`CREATE DATABASE ${name} TEMPLATE template0`);
  } catch (error) {
    if (error instanceof Error && 'code' in error && error.code === NOT_ALLOWED) return undefined;
    throw error;
  }
  const url = Object.assign(new URL(databaseUrl), { pathname: `/${name}` }).href;
  return { url, drop };
}
