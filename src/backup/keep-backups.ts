import { rename } from 'node:fs/promises';
import { join } from 'node:path';
import pg from 'pg';
import type { BackupPlan } from '../config.ts';
import type { Logger } from '../platform/logger.ts';
import type { PhotoStore } from '../platform/photos/photo-store.ts';
import { pause } from '../platform/clock.ts';
import {
  hasName,
  insertStarted,
  isDue,
  type Kept,
  listKept,
  readNow,
  updateFailed,
  updateFinished,
  updateRemoved,
  updateVerified,
  whileAlone,
} from './kept-backups.ts';
import { drillBackup, type Drilled } from './restore-backup.ts';
import { type BackupPlace, encryptFile, inWorkFolder, NAME, openPlace, sumOf } from './place.ts';
import { writeBackup, type Written } from './write-backup.ts';

export interface Keeping {
  plan: BackupPlan;
  databaseUrl: string;
  dataDir: string;
  photos: PhotoStore;
  log: Logger;
}

export type Made = Written & { name: string; place: string; drilled: Drilled; removed: string[] };

/**
 * Makes a backup into its place, brings it back into a scratch database from there, and removes those beyond the number to
 * keep. One at a time, however many workers there are.
 *
 * @param ifDue make none when the last is young enough
 * @returns undefined when none was due, or another process is at it
 * @throws Error when it could not be made, or could not be brought back; the backups say so too, and none is removed
 */
export async function makeKeptBackup(keeping: Keeping, { ifDue }: { ifDue: boolean }): Promise<Made | undefined> {
  return withClient(keeping.databaseUrl, (client) =>
    whileAlone(client, async () => {
      const { everyHours } = keeping.plan;
      if (ifDue && (everyHours === 0 || !(await isDue(client, everyHours)))) return undefined;
      return inWorkFolder(keeping.dataDir, (folder) => make(client, keeping, folder));
    }),
  );
}

async function make(client: pg.Client, keeping: Keeping, folder: string): Promise<Made> {
  const { plan, databaseUrl, photos } = keeping;
  const place = openPlace(plan);
  const encrypted = plan.passphrase !== undefined;
  const { name, now } = await nextName(client, encrypted);
  const id = await insertStarted(client, { name, place: place.address, encrypted });
  try {
    const written = await writeBackup({ databaseUrl, photos, path: join(folder, 'made.backup'), now });
    const file = join(folder, name);
    const sum = await closed(written.path, file, plan.passphrase);
    await place.put(name, file, sum);
    await updateFinished(client, id, sum);
    const drilled = await drill(client, keeping, { id, name, sha256: sum.sha256 }, folder);
    const removed = await prune(client, place, plan.keep);
    return { ...written, ...sum, name, place: place.address, drilled, removed };
  } catch (error) {
    await updateFailed(client, id, error instanceof Error ? error.message : String(error));
    throw error;
  }
}

/** A name has the second in it, and no backup is written over another: where one has it, the next second is waited for. */
async function nextName(client: pg.Client, encrypted: boolean): Promise<{ name: string; now: Date }> {
  for (;;) {
    const now = await readNow(client);
    const name = `gridworthy-${now.toISOString().replaceAll(/[-:]|\.\d+/g, '')}.backup${encrypted ? '.age' : ''}`;
    if (!(await hasName(client, name))) return { name, now };
    await pause(1000 - (now.getTime() % 1000));
  }
}

async function closed(from: string, to: string, passphrase: string | undefined) {
  if (passphrase !== undefined) return encryptFile(from, to, passphrase);
  await rename(from, to);
  return sumOf(to);
}

/** Brings one back from where it lies, and notes how it was found. */
async function drill(
  client: pg.Client,
  { plan, databaseUrl, log }: Keeping,
  kept: Pick<Kept, 'id' | 'name' | 'sha256'>,
  folder: string,
): Promise<Drilled> {
  const file = join(folder, 'fetched');
  try {
    await openPlace(plan).fetch(kept.name, file);
    const { sha256 } = await sumOf(file);
    if (sha256 !== kept.sha256) throw new Error(`${kept.name} is not what was written there`);
    const drilled = await drillBackup({ file, folder, passphrase: plan.passphrase, databaseUrl, log });
    await updateVerified(client, kept.id, { verified: drilled.verified });
    return drilled;
  } catch (error) {
    await updateVerified(client, kept.id, { error: error instanceof Error ? error.message : String(error) });
    throw error;
  }
}

/** Removes the oldest beyond the number to keep. What was found bad does not count, so that it pushes no good one out. */
async function prune(client: pg.Client, place: BackupPlace, keep: number): Promise<string[]> {
  const good = (await listKept(client, place.address)).filter(({ error }) => error === null);
  const removed: string[] = [];
  for (const { id, name } of good.slice(keep)) {
    if (!NAME.test(name)) continue;
    await place.remove(name);
    await updateRemoved(client, id);
    removed.push(name);
  }
  return removed;
}

/**
 * Brings the newest backup back from its place, or the one of this name.
 *
 * @returns the backups that are kept, the newest first, and how this one was found; undefined when another process is at it
 * @throws Error when there is none, or it cannot be brought back
 */
export async function drillKept(
  keeping: Keeping,
  name?: string,
): Promise<(Drilled & { kept: Kept[]; of: Kept }) | undefined> {
  return withClient(keeping.databaseUrl, (client) =>
    whileAlone(client, async () => {
      const kept = await listKept(client, openPlace(keeping.plan).address);
      const of = name === undefined ? kept[0] : kept.find((one) => one.name === name);
      if (of === undefined)
        throw new Error(name === undefined ? 'none was made yet' : `none is kept under the name ${name}`);
      const drilled = await inWorkFolder(keeping.dataDir, (folder) => drill(client, keeping, of, folder));
      return { ...drilled, kept, of };
    }),
  );
}

async function withClient<T>(databaseUrl: string, work: (client: pg.Client) => Promise<T>): Promise<T> {
  const client = new pg.Client({ connectionString: databaseUrl, application_name: 'gridworthy-backups' });
  client.on('error', () => undefined);
  await client.connect();
  try {
    return await work(client);
  } finally {
    await client.end();
  }
}
