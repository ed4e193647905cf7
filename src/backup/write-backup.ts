import pg from 'pg';
import { type PhotoStore, PhotoStoreError } from '../platform/photos/photo-store.ts';
import {
  type ArchiveWriter,
  createArchive,
  encodeRows,
  END,
  type End,
  MANIFEST,
  type Manifest,
  photoFile,
  tableFile,
} from './archive.ts';
import { fixFormats, listMigrations, listTables, readRows } from './database.ts';

export interface Written {
  path: string;
  /** of the whole file */
  sha256: string;
  bytes: number;
  rows: Record<string, number>;
  photos: number;
  missingPhotos: string[];
  /** where the histories stood, to be noted down outside of this machine */
  heads: { eventId: string; seq: number; hash: string }[];
}

/**
 * Writes everything on record into one file, as it was at one moment, while the server works. Photos that the store no
 * longer has are named in the result; the rest is there.
 *
 * @throws Error when the file exists or cannot be written, or the database has no service in it; then no file is left
 */
export async function writeBackup(from: {
  databaseUrl: string;
  photos: PhotoStore;
  path: string;
  now: Date;
}): Promise<Written> {
  const client = new pg.Client({ connectionString: from.databaseUrl, application_name: 'gridworthy-backup' });
  client.on('error', () => undefined);
  await client.connect();
  try {
    await client.query('BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY');
    await fixFormats(client);
    const manifest = await describe(client, from.now);
    const archive = await createArchive(from.path);
    try {
      return await fill(archive, { client, manifest, photos: from.photos, path: from.path });
    } catch (error) {
      await archive.abandon();
      throw error;
    }
  } finally {
    await client.end();
  }
}

async function describe(client: pg.Client, now: Date): Promise<Manifest> {
  const tables = await listTables(client);
  if (!tables.some((table) => table.name === 'history'))
    throw new Error('there is nothing to back up in this database');
  return {
    format: 'gridworthy-backup',
    formatVersion: 1,
    createdAt: now.toISOString(),
    migrations: await listMigrations(client),
    tables,
  };
}

async function fill(
  archive: ArchiveWriter,
  from: { client: pg.Client; manifest: Manifest; photos: PhotoStore; path: string },
): Promise<Written> {
  const { client, manifest } = from;
  await archive.add(MANIFEST, json(manifest));
  const rows: Record<string, number> = {};
  for (const { name } of manifest.tables) rows[name] = await addTable(archive, client, name);
  // A database of an earlier version, backed up before it is brought forward, has not every table.
  const has = (table: string) => manifest.tables.some(({ name }) => name === table);
  const { photos, missingPhotos } = has('photos') ? await addPhotos(archive, from) : { photos: 0, missingPhotos: [] };
  const end: End = { rows, photos, missingPhotos, files: archive.files() };
  const heads = await listHeads(client, has);
  await archive.add(END, json(end));
  return { path: from.path, ...(await archive.finish()), rows, photos, missingPhotos, heads };
}

async function addTable(archive: ArchiveWriter, client: pg.Client, table: string): Promise<number> {
  let count = 0;
  let part = 1;
  for await (const rows of readRows(client, table)) {
    await archive.add(tableFile(table, part), encodeRows(rows));
    part += 1;
    count += rows.length;
  }
  return count;
}

async function addPhotos(archive: ArchiveWriter, { client, photos }: { client: pg.Client; photos: PhotoStore }) {
  const missingPhotos: string[] = [];
  let count = 0;
  for (const { hash, counts } of await listPhotos(client)) {
    const bytes = await photos.get(hash).catch((error: unknown) => {
      // Damaged: it is named in the result like one that is missing.
      if (error instanceof PhotoStoreError) return undefined;
      throw error;
    });
    if (bytes === undefined) {
      // The files of removed photos are deleted after a while.
      if (counts) missingPhotos.push(hash);
      continue;
    }
    await archive.add(photoFile(hash), bytes);
    count += 1;
  }
  return { photos: count, missingPhotos };
}

/** Contents that photos name, with whether one of these photos was not removed; none of people who were erased. */
async function listPhotos(client: pg.Client): Promise<{ hash: string; counts: boolean }[]> {
  const { rows } = await client.query<{ hash: string; counts: boolean }>(
    `SELECT p.content_hash AS hash, bool_or(p.removed_at IS NULL) AS counts
      FROM photos p JOIN entries e ON e.id = p.entry_id
      WHERE p.removed_at IS NULL OR to_jsonb(e) ->> 'erased_at' IS NULL
      GROUP BY 1 ORDER BY 1`,
  );
  return rows;
}

/** Of the trees; of a database of an earlier version, of the chains. */
async function listHeads(client: pg.Client, has: (table: string) => boolean): Promise<Written['heads']> {
  if (!has('event_trees') && !has('event_chains')) return [];
  const { rows } = await client.query<{ eventId: string; seq: number; hash: string }>(
    has('event_trees')
      ? `SELECT event_id AS "eventId", size AS seq, encode(root, 'hex') AS hash FROM event_trees ORDER BY event_id`
      : 'SELECT event_id AS "eventId", seq, hash FROM event_chains ORDER BY event_id',
  );
  return rows;
}

const json = (value: unknown) => Buffer.from(`${JSON.stringify(value, null, 1)}\n`, 'utf8');
