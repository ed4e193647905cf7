import { randomUUID } from 'node:crypto';
import { link, mkdir, open, readdir, readFile, rename, rm, stat, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { assertContent, photoPath, type PhotoFolder, type PhotoStore, PhotoStoreError } from './photo-store.ts';

/** Half-written files; a rename moves them to their place, so that a photo is there whole or not at all. */
const INCOMING = 'incoming';
/** Files on their way out; see `removeOlderThan`. */
const OUTGOING = 'outgoing';
const OWNER = 'owner';

/** Photos in a folder of this machine: `<root>/ab/<hash>`. Nothing is touched before the first use. */
export function openPhotoFolder(root: string): PhotoStore & { folder: PhotoFolder } {
  return {
    put: (hash, bytes) => reported('write', () => put(root, hash, bytes)),
    get: (hash) => reported('read', () => get(root, hash)),
    folder: {
      exists: async () => (await unlessMissing(stat(root))) !== undefined,
      claim: (owner) => reported('own', () => claim(root, owner)),
      listOlderThan: (before) => listOlderThan(root, before),
      removeOlderThan: (hash, before) => removeOlderThan(root, hash, before),
      recover: (before) => recover(root, before),
    },
  };
}

/** The codes of the file system are also those of a database that is down, which this is not. */
async function reported<T>(what: 'write' | 'read' | 'own', work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof PhotoStoreError) throw error;
    throw new PhotoStoreError(`cannot ${what} ${what === 'own' ? 'the folder of photos' : 'a photo'}`, {
      cause: error,
    });
  }
}

/** Always writes: an existing file gets a new time, which keeps it from being tidied away, and is mended if damaged. */
async function put(root: string, hash: string, bytes: Buffer): Promise<void> {
  const path = join(root, photoPath(hash));
  const temporary = join(root, INCOMING, randomUUID());
  await mkdir(dirname(temporary), { recursive: true });
  const made = await mkdir(dirname(path), { recursive: true });
  try {
    const file = await open(temporary, 'wx', 0o600);
    try {
      await file.writeFile(bytes);
      await file.sync();
    } finally {
      await file.close();
    }
    await rename(temporary, path);
  } catch (error) {
    await rm(temporary, { force: true });
    throw error;
  }
  // A name is safe when its folder is.
  await syncFolder(dirname(path));
  if (made !== undefined) await syncFolder(root);
}

async function syncFolder(path: string): Promise<void> {
  const folder = await open(path, 'r');
  try {
    await folder.sync();
  } finally {
    await folder.close();
  }
}

async function get(root: string, hash: string): Promise<Buffer | undefined> {
  const bytes = await unlessMissing(readFile(join(root, photoPath(hash))));
  return bytes && assertContent(hash, bytes);
}

async function claim(root: string, owner: string): Promise<boolean> {
  const path = join(root, OWNER);
  await mkdir(root, { recursive: true });
  try {
    await writeFile(path, `${owner}\n`, { flag: 'wx' });
    return true;
  } catch (error) {
    if (codeOf(error) !== 'EEXIST') throw error;
    return (await readFile(path, 'utf8')).trim() === owner;
  }
}

async function* listOlderThan(root: string, before: Date): AsyncIterable<string[]> {
  const folders = (await unlessMissing(readdir(root))) ?? [];
  for (const folder of folders.filter((name) => /^[0-9a-f]{2}$/.test(name))) {
    const old: string[] = [];
    for (const name of (await unlessMissing(readdir(join(root, folder)))) ?? []) {
      if (!/^[0-9a-f]{64}$/.test(name)) continue;
      if (await isOlder(join(root, folder, name), before)) old.push(name);
    }
    if (old.length > 0) yield old;
  }
}

/**
 * Whoever stores a photo first puts its file and then writes its row, so a file that is old at the moment it is moved
 * aside has no row on its way. One that was put again just before is young, and goes back.
 */
async function removeOlderThan(root: string, hash: string, before: Date): Promise<boolean> {
  const path = join(root, photoPath(hash));
  const aside = join(root, OUTGOING, `${hash}.${randomUUID()}`);
  await mkdir(dirname(aside), { recursive: true });
  const moved = await unlessMissing(rename(path, aside).then(() => true));
  if (moved === undefined) return false;
  const old = await isOlder(aside, before);
  if (!old) await bringBack(root, aside);
  else await rm(aside, { force: true });
  return old;
}

async function recover(root: string, before: Date): Promise<void> {
  for (const name of (await unlessMissing(readdir(join(root, INCOMING)))) ?? []) {
    const path = join(root, INCOMING, name);
    if (await isOlder(path, before)) await rm(path, { force: true });
  }
  for (const name of (await unlessMissing(readdir(join(root, OUTGOING)))) ?? []) {
    await bringBack(root, join(root, OUTGOING, name));
  }
}

/** Links a file that was moved aside to its place again, unless there is one: equal names have equal content. */
async function bringBack(root: string, aside: string): Promise<void> {
  const hash = /([0-9a-f]{64})\.[^/]*$/.exec(aside)?.[1];
  if (hash === undefined) return;
  await link(aside, join(root, photoPath(hash))).catch((error: unknown) => {
    if (codeOf(error) !== 'EEXIST' && codeOf(error) !== 'ENOENT') throw error;
  });
  await rm(aside, { force: true });
}

async function isOlder(path: string, before: Date): Promise<boolean> {
  const found = await unlessMissing(stat(path));
  return found !== undefined && found.mtimeMs < before.getTime();
}

async function unlessMissing<T>(work: Promise<T>): Promise<T | undefined> {
  try {
    return await work;
  } catch (error) {
    if (codeOf(error) === 'ENOENT') return undefined;
    throw error;
  }
}

function codeOf(error: unknown): unknown {
  return error instanceof Error && 'code' in error ? error.code : undefined;
}
