import { createHash, randomUUID } from 'node:crypto';
import { link, mkdir, open, readdir, readFile, rename, rm, stat, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { AwsClient } from 'aws4fetch';

/** Where photos lie, each under the SHA-256 of its content. */
export interface PhotoStore {
  /**
   * Keeps bytes under their hash. When this returns they are safe; doing it again does no harm.
   *
   * @throws PhotoStoreError
   */
  put(hash: string, bytes: Buffer): Promise<void>;
  /**
   * The bytes of a hash, compared with it; `undefined` when there are none.
   *
   * @throws PhotoStoreError, also when what lies there is not what was put
   */
  get(hash: string): Promise<Buffer | undefined>;
  /** the same store as a folder of this machine, which must be tidied; absent where there is nothing to tidy */
  folder?: PhotoFolder;
}

/** What tidying a folder of photos needs. Instants are compared with the clock of the file system. */
export interface PhotoFolder {
  /** Whether anything was ever put there. */
  exists(): Promise<boolean>;
  /** Whether the folder belongs to this owner; the first to ask owns it. Two databases must not tidy one folder. */
  claim(owner: string): Promise<boolean>;
  /** Hashes of photos that nobody put since, a few hundred at a time. */
  listOlderThan(before: Date): AsyncIterable<string[]>;
  /** Removes a photo unless somebody put it (again) since; returns whether it is gone. */
  removeOlderThan(hash: string, before: Date): Promise<boolean>;
  /** Removes what interrupted writes left, and brings back what an interrupted removal took away. */
  recover(before: Date): Promise<void>;
}

/** The store cannot be reached, is full, or gave back something else. Trying again may help. */
export class PhotoStoreError extends Error {
  constructor(message: string, options?: ErrorOptions) {
    super(message, options);
    this.name = 'PhotoStoreError';
  }
}

/** The name of a content: its SHA-256 in hexadecimal. */
export function contentHash(bytes: Buffer): string {
  return createHash('sha256').update(bytes).digest('hex');
}

/**
 * The place of a hash below the root of a store: `ab/abcd…`.
 *
 * @throws PhotoStoreError when it is no hash, so that no other text ever becomes a path
 */
export function photoPath(hash: string): string {
  if (!/^[0-9a-f]{64}$/.test(hash)) throw new PhotoStoreError('not a content hash');
  return `${hash.slice(0, 2)}/${hash}`;
}

/** @throws PhotoStoreError when the bytes are not those of the hash */
export function assertContent(hash: string, bytes: Buffer): Buffer {
  if (contentHash(bytes) !== hash) throw new PhotoStoreError(`photo ${hash} is not what was stored`);
  return bytes;
}

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

/** An S3-compatible object store, addressed by path: `<endpoint>/<bucket>/<prefix>/ab/<hash>`. */
export interface Bucket {
  /** without a slash at its end */
  endpoint: string;
  bucket: string;
  /** without slashes at its ends; empty for none */
  prefix: string;
  region: string;
  accessKeyId: string;
  secretAccessKey: string;
}

const TIMEOUT_MS = 20_000;
const RETRIES = 2;

/**
 * Photos in an S3-compatible object store. Requests are signed (AWS Signature Version 4), the content by its hash, so
 * the store refuses bytes that changed on their way. Redirects are not followed. Failures of the store are tried again
 * twice.
 */
export function openPhotoBucket(bucket: Bucket): PhotoStore {
  const { accessKeyId, secretAccessKey, region } = bucket;
  const client = new AwsClient({ accessKeyId, secretAccessKey, region, service: 's3', retries: RETRIES });
  const root = [bucket.endpoint, bucket.bucket, bucket.prefix].filter((part) => part !== '').join('/');
  const ask = async (hash: string, init: RequestInit): Promise<Response> => {
    const url = `${root}/${photoPath(hash)}`;
    try {
      return await client.fetch(url, { ...init, redirect: 'error', signal: AbortSignal.timeout(TIMEOUT_MS) });
    } catch (error) {
      throw new PhotoStoreError('the object store does not answer', { cause: error });
    }
  };
  return {
    async put(hash, bytes) {
      const headers = { 'content-type': 'image/jpeg', 'x-amz-content-sha256': hash };
      const answer = await ask(hash, { method: 'PUT', body: new Uint8Array(bytes), headers });
      await answer.body?.cancel();
      if (!answer.ok) throw new PhotoStoreError(`the object store answered PUT with ${answer.status}`);
    },
    async get(hash) {
      const answer = await ask(hash, { method: 'GET' });
      if (answer.ok) return assertContent(hash, await bytesOf(answer));
      await answer.body?.cancel();
      if (answer.status === 404) return undefined;
      throw new PhotoStoreError(`the object store answered GET with ${answer.status}`);
    },
  };
}

async function bytesOf(answer: Response): Promise<Buffer> {
  try {
    return Buffer.from(await answer.arrayBuffer());
  } catch (error) {
    throw new PhotoStoreError('the object store broke off its answer', { cause: error });
  }
}
