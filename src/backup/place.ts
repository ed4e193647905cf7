import { createReadStream, createWriteStream } from 'node:fs';
import { access, copyFile, mkdir, open, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { Readable, Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createHash } from 'node:crypto';
import type { ReadableStream } from 'node:stream/web';
import { AwsClient } from 'aws4fetch';
import { Decrypter, Encrypter } from 'age-encryption';
import type { BackupPlan } from '../config.ts';

/** How a file in the age format (version 1) begins. */
const HEAD = 'age-encryption.org/v1\n';

export async function isEncrypted(path: string): Promise<boolean> {
  const file = await open(path, 'r');
  try {
    const { buffer, bytesRead } = await file.read(Buffer.alloc(HEAD.length), 0, HEAD.length, 0);
    return buffer.toString('latin1', 0, bytesRead) === HEAD;
  } finally {
    await file.close();
  }
}

/**
 * Encrypts a file with a passphrase, in the age format: any program of that format opens it, without this server.
 *
 * @returns SHA-256 and size of the encrypted file
 * @throws Error when the target exists
 */
export async function encryptFile(from: string, to: string, passphrase: string): Promise<Sum> {
  const encrypter = new Encrypter();
  encrypter.setPassphrase(passphrase);
  const encrypted = await encrypter.encrypt(webStreamOf(from));
  const sum = summing();
  await pipeline(
    Readable.fromWeb(encrypted as ReadableStream),
    sum.pass,
    createWriteStream(to, { flags: 'wx', mode: 0o600 }),
  );
  return sum.result();
}

/** @throws Error when the passphrase is not the one, or the file is damaged or cut off */
export async function decryptFile(from: string, to: string, passphrase: string): Promise<void> {
  const decrypter = new Decrypter();
  decrypter.addPassphrase(passphrase);
  const plain = await decrypter.decrypt(webStreamOf(from)).catch((error: unknown) => {
    throw new Error('the passphrase is not the one of this backup, or its beginning is damaged', { cause: error });
  });
  await pipeline(Readable.fromWeb(plain as ReadableStream), createWriteStream(to, { flags: 'wx', mode: 0o600 }));
}

// The stream of the platform is the one that the package knows, under another type.
const webStreamOf = (path: string) => Readable.toWeb(createReadStream(path)) as globalThis.ReadableStream<Uint8Array>;

interface Sum {
  sha256: string;
  bytes: number;
}

function summing(): { pass: Transform; result(): Sum } {
  const hash = createHash('sha256');
  let bytes = 0;
  const pass = new Transform({
    transform(chunk: Buffer, _encoding, done) {
      hash.update(chunk);
      bytes += chunk.length;
      done(null, chunk);
    },
  });
  return { pass, result: () => ({ sha256: hash.digest('hex'), bytes }) };
}

/** SHA-256 and size of a file. */
export async function sumOf(path: string): Promise<Sum> {
  const sum = summing();
  sum.pass.resume();
  await pipeline(createReadStream(path), sum.pass);
  return sum.result();
}

/** Where backups are kept, each under its name. */
export interface BackupPlace {
  /** for people, without keys */
  address: string;
  /** Puts a file there; what stands under the name is whole. @throws Error */
  put(name: string, file: string, sum: Sum): Promise<void>;
  /** Brings one back as a file. @throws Error, also when there is none of this name */
  fetch(name: string, file: string): Promise<void>;
  /** Removes one; none of this name is no error. @throws Error */
  remove(name: string): Promise<void>;
}

/** A name of ours: never a path. */
export const NAME = /^gridworthy-\d{8}T\d{6}Z\.backup(\.age)?$/;

export function openPlace({ to }: BackupPlan): BackupPlace {
  return 'folder' in to ? openFolder(to.folder) : openBucket(to.bucket);
}

function openFolder(folder: string): BackupPlace {
  return {
    address: folder,
    async put(name, file) {
      // Not made if absent: a disk that is not mounted would fill the one below it, and be lost with it.
      await access(folder).catch(() => {
        throw new Error(`BACKUP_TO ${folder} is not there: mount it, or make it once`);
      });
      const partial = join(folder, `${name}.partial`);
      await rm(partial, { force: true });
      await copyFile(file, partial);
      const written = await open(partial, 'r+');
      try {
        await written.sync();
      } finally {
        await written.close();
      }
      await rename(partial, join(folder, name));
    },
    fetch: (name, file) => copyFile(join(folder, name), file),
    remove: (name) => rm(join(folder, name), { force: true }),
  };
}

/** A backup may be large and the line slow; one that hangs for longer is given up and tried again later. */
const TIMEOUT_MS = 3_600_000;

function openBucket(bucket: Extract<BackupPlan['to'], { bucket: unknown }>['bucket']): BackupPlace {
  const { accessKeyId, secretAccessKey, region, endpoint, prefix } = bucket;
  // Not tried again by itself: a body that is read from a file is spent.
  const client = new AwsClient({ accessKeyId, secretAccessKey, region, service: 's3', retries: 0 });
  const root = [endpoint, bucket.bucket, prefix].filter((part) => part !== '').join('/');
  const ask = async (name: string, init: RequestInit & { duplex?: 'half' }) => {
    const signal = AbortSignal.timeout(TIMEOUT_MS);
    const answer = await client.fetch(`${root}/${name}`, { ...init, redirect: 'error', signal });
    if (answer.ok) return answer;
    await answer.body?.cancel();
    throw new Error(`the object store answered ${init.method ?? 'GET'} ${name} with ${answer.status}`);
  };
  return {
    address: `s3://${[bucket.bucket, prefix].filter((part) => part !== '').join('/')}`,
    async put(name, file, { sha256, bytes }) {
      // Signed by its sum, so that the store refuses bytes that changed on their way.
      const headers = { 'x-amz-content-sha256': sha256, 'content-length': String(bytes) };
      const body = Readable.toWeb(createReadStream(file)) as globalThis.ReadableStream;
      const answer = await ask(name, { method: 'PUT', headers, body, duplex: 'half' });
      await answer.body?.cancel();
    },
    async fetch(name, file) {
      // Its type is another one where the browser's types are there too, as in the tests of the pages.
      const { body }: { body: unknown } = await ask(name, { method: 'GET' });
      if (body === null) throw new Error(`the object store has nothing under ${name}`);
      await pipeline(Readable.fromWeb(body as ReadableStream), createWriteStream(file, { flags: 'wx', mode: 0o600 }));
    },
    async remove(name) {
      const answer = await ask(name, { method: 'DELETE' });
      await answer.body?.cancel();
    },
  };
}

/** Makes a folder for work in progress below the data folder, and takes it away again. */
export async function inWorkFolder<T>(dataDir: string, work: (folder: string) => Promise<T>): Promise<T> {
  const folder = join(dataDir, 'backup-work');
  // What a run that was cut off left.
  await rm(folder, { recursive: true, force: true });
  await mkdir(folder, { recursive: true, mode: 0o700 });
  try {
    return await work(folder);
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}
