import { createHash } from 'node:crypto';
import { join } from 'node:path';
import pg from 'pg';
import type { Logger } from '../platform/logger.ts';
import { assertContent, type PhotoStore } from '../platform/photos/photo-store.ts';
import type { Verified } from './backups-store.ts';
import { decryptFile, isEncrypted } from './encrypt.ts';
import { checkBackup, restoreBackup } from './restore-backup.ts';

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
