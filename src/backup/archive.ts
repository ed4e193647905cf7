import { createHash } from 'node:crypto';
import { once } from 'node:events';
import { createReadStream, createWriteStream } from 'node:fs';
import { open, rename, rm } from 'node:fs/promises';
import { finished } from 'node:stream/promises';
import { createGunzip, createGzip } from 'node:zlib';
import { z } from 'zod';

/** A file in an archive: a path of at most 100 ASCII characters, and its content. */
interface TarFile {
  name: string;
  bytes: Buffer;
}

const BLOCK = 512;
/** Larger files are not written; larger sizes on reading are damage. */
const MAX_BYTES = 256 * 1024 * 1024;
const CHECKSUM_AT = 148;

/** What ends an archive: two empty blocks. */
const TAR_END = Buffer.alloc(2 * BLOCK);

/**
 * A file as POSIX ustar has it (IEEE Std 1003.1, pax: "ustar Interchange Format"): header block, content, padding.
 *
 * @throws Error when name or content is too large for the format as used here
 */
function toTar({ name, bytes }: TarFile): Buffer {
  if (!/^[\x21-\x7e]{1,100}$/.test(name)) throw new Error(`not a name for an archive: ${JSON.stringify(name)}`);
  if (bytes.length > MAX_BYTES) throw new Error(`${name} is too large for an archive`);
  const header = Buffer.alloc(BLOCK);
  const octal = (value: number, at: number, length: number) =>
    header.write(`${value.toString(8).padStart(length - 1, '0')}\0`, at, 'latin1');
  header.write(name, 0, 'latin1');
  octal(0o600, 100, 8);
  octal(0, 108, 8);
  octal(0, 116, 8);
  octal(bytes.length, 124, 12);
  octal(0, 136, 12);
  header.write('0', 156, 'latin1');
  header.write('ustar\x0000', 257, 'latin1');
  header.write(`${checksum(header).toString(8).padStart(6, '0')}\0 `, CHECKSUM_AT, 'latin1');
  return Buffer.concat([header, bytes, Buffer.alloc(padding(bytes.length))]);
}

/**
 * Reads an archive that `toTar` wrote, file by file.
 *
 * @throws Error when it is damaged, or ends before its end
 */
async function* readTar(chunks: AsyncIterable<Buffer>): AsyncGenerator<TarFile> {
  const read = reader(chunks);
  for (;;) {
    const header = await read.bytes(BLOCK);
    // What follows is empty as well, but the sums of the compression around it are checked at its end.
    if (header.every((byte) => byte === 0)) return read.rest();
    const { name, size } = parseHeader(header);
    const body = await read.bytes(size + padding(size));
    yield { name, bytes: body.subarray(0, size) };
  }
}

function parseHeader(header: Buffer): { name: string; size: number } {
  const text = (at: number, length: number) => header.toString('latin1', at, at + length).replace(/[\0 ].*$/s, '');
  const expected = Number.parseInt(text(CHECKSUM_AT, 8), 8);
  const size = Number.parseInt(text(124, 12), 8);
  const sound = expected === checksum(header) && text(257, 6) === 'ustar' && size >= 0 && size <= MAX_BYTES;
  if (!sound) throw new Error('the archive is damaged');
  return { name: text(0, 100), size };
}

/** The sum of the header's bytes, with spaces for the sum itself. */
function checksum(header: Buffer): number {
  let sum = 8 * 0x20;
  for (const [at, byte] of header.entries()) if (at < CHECKSUM_AT || at >= CHECKSUM_AT + 8) sum += byte;
  return sum;
}

const padding = (size: number) => (BLOCK - (size % BLOCK)) % BLOCK;

/** Hands out exactly so many bytes at a time; `rest` reads to the end. */
function reader(chunks: AsyncIterable<Buffer>): { bytes(length: number): Promise<Buffer>; rest(): Promise<void> } {
  const source = chunks[Symbol.asyncIterator]();
  let held: Buffer[] = [];
  let size = 0;
  return {
    async bytes(length) {
      while (size < length) {
        const next = await source.next();
        if (next.done === true) throw new Error('the archive ends too early');
        held.push(next.value);
        size += next.value.length;
      }
      const all = Buffer.concat(held);
      held = [all.subarray(length)];
      size = all.length - length;
      return all.subarray(0, length);
    },
    async rest() {
      for (let next = await source.next(); next.done !== true; ) next = await source.next();
    },
  };
}

export const MANIFEST = 'manifest.json';
export const END = 'end.json';

const Name = z.string().regex(/^[a-z_]{1,63}$/);
const Hash = z.string().regex(/^[0-9a-f]{64}$/);

/** The first file of a backup: what is in it. */
export const Manifest = z.object({
  format: z.literal('gridworthy-backup'),
  formatVersion: z.literal(1),
  createdAt: z.iso.datetime(),
  /** in the order in which they were applied */
  migrations: z.array(z.object({ name: z.string(), checksum: Hash })).min(1),
  /** in an order in which rows only refer to rows before them */
  tables: z.array(z.object({ name: Name, columns: z.array(z.string()).min(1) })).min(1),
});
export type Manifest = z.infer<typeof Manifest>;

/** The last file of a backup: what came before it. A backup without it was cut off. */
export const End = z.object({
  rows: z.record(Name, z.int().min(0)),
  photos: z.int().min(0),
  /** contents that photos name and the store no longer had */
  missingPhotos: z.array(Hash),
  files: z.array(z.object({ name: z.string(), sha256: Hash })),
});
export type End = z.infer<typeof End>;

export const tableFile = (table: string, part: number) => `tables/${table}/${String(part).padStart(6, '0')}.jsonl`;
export const photoFile = (hash: string) => `photos/${hash}`;

/** The table or the photo that a file of a backup belongs to. */
export function partOf(name: string): { table: string } | { photo: string } | undefined {
  const table = /^tables\/([a-z_]{1,63})\/\d+\.jsonl$/.exec(name)?.[1];
  if (table !== undefined) return { table };
  const photo = /^photos\/([0-9a-f]{64})$/.exec(name)?.[1];
  return photo === undefined ? undefined : { photo };
}

/** Rows of a table, each as PostgreSQL writes a composite value, one JSON text per line. */
export const encodeRows = (rows: readonly string[]) =>
  Buffer.from(rows.map((row) => `${JSON.stringify(row)}\n`).join(''), 'utf8');

export const decodeRows = (bytes: Buffer): string[] =>
  bytes
    .toString('utf8')
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => z.string().parse(JSON.parse(line)));

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
