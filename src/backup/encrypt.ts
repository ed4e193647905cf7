import { createHash } from 'node:crypto';
import { createReadStream, createWriteStream } from 'node:fs';
import { open } from 'node:fs/promises';
import { Readable, Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { ReadableStream } from 'node:stream/web';
import { Decrypter, Encrypter } from 'age-encryption';

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

export interface Sum {
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
