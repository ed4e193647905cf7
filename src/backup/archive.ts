import { createHash } from 'node:crypto';
import { once } from 'node:events';
import { createReadStream, createWriteStream } from 'node:fs';
import { open, rename, rm } from 'node:fs/promises';
import { finished } from 'node:stream/promises';
import { createGunzip, createGzip } from 'node:zlib';
import { readTar, TAR_END, type TarFile, toTar } from './tar.ts';

export const sha256 = (bytes: Buffer) => createHash('sha256').update(bytes).digest('hex');

export interface ArchiveWriter {
  add(name: string, bytes: Buffer): Promise<void>;
  /** the files so far with the SHA-256 of each, in hexadecimal */
  files(): { name: string; sha256: string }[];
  /** Ends the archive; from now on it stands under its name. Gives its SHA-256 and size. */
  finish(): Promise<{ sha256: string; bytes: number }>;
  /** Gives up: nothing stays. */
  abandon(): Promise<void>;
}

/**
 * Writes a gzipped tar archive, readable by this user only. Until it is finished it stands beside its place, so that a
 * file under this name is always whole.
 *
 * @throws Error when the file exists
 */
export async function createArchive(path: string): Promise<ArchiveWriter> {
  const partial = `${path}.partial`;
  await refuseExisting(path);
  const gzip = createGzip();
  const file = createWriteStream(partial, { flags: 'wx', mode: 0o600 });
  const hash = createHash('sha256');
  let size = 0;
  gzip.on('data', (chunk: Buffer) => {
    hash.update(chunk);
    size += chunk.length;
  });
  // A full disk ends both; whoever waits for the next write hears of it.
  file.on('error', (error) => gzip.destroy(error));
  gzip.on('error', () => undefined);
  gzip.pipe(file);
  await once(file, 'open');
  const files: { name: string; sha256: string }[] = [];
  const write = async (bytes: Buffer) => {
    if (gzip.destroyed) throw new Error('the backup cannot be written', { cause: gzip.errored });
    if (!gzip.write(bytes)) await once(gzip, 'drain');
  };
  return {
    async add(name, bytes) {
      await write(toTar({ name, bytes }));
      files.push({ name, sha256: sha256(bytes) });
    },
    files: () => [...files],
    async finish() {
      await write(TAR_END);
      gzip.end();
      await finished(file);
      await syncToDisk(partial);
      await refuseExisting(path);
      await rename(partial, path);
      return { sha256: hash.digest('hex'), bytes: size };
    },
    async abandon() {
      gzip.destroy();
      file.destroy();
      await rm(partial, { force: true });
    },
  };
}

/**
 * The files of an archive, one after the other.
 *
 * @throws Error when it is no archive, damaged, or cut off
 */
export async function* readArchive(path: string): AsyncGenerator<TarFile> {
  const file = createReadStream(path);
  const gunzip = createGunzip();
  file.on('error', (error) => gunzip.destroy(error));
  try {
    yield* readTar(file.pipe(gunzip));
  } finally {
    file.destroy();
    gunzip.destroy();
  }
}

async function refuseExisting(path: string): Promise<void> {
  const existing = await open(path, 'r').catch(() => undefined);
  await existing?.close();
  if (existing !== undefined) throw new Error(`${path} exists already: choose another name`);
}

async function syncToDisk(path: string): Promise<void> {
  const file = await open(path, 'r+');
  try {
    await file.sync();
  } finally {
    await file.close();
  }
}
