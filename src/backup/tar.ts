/** A file in an archive: a path of at most 100 ASCII characters, and its content. */
export interface TarFile {
  name: string;
  bytes: Buffer;
}

const BLOCK = 512;
/** Larger files are not written; larger sizes on reading are damage. */
const MAX_BYTES = 256 * 1024 * 1024;
const CHECKSUM_AT = 148;

/** What ends an archive: two empty blocks. */
export const TAR_END = Buffer.alloc(2 * BLOCK);

/**
 * A file as POSIX ustar has it (IEEE Std 1003.1, pax: "ustar Interchange Format"): header block, content, padding.
 *
 * @throws Error when name or content is too large for the format as used here
 */
export function toTar({ name, bytes }: TarFile): Buffer {
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
export async function* readTar(chunks: AsyncIterable<Buffer>): AsyncGenerator<TarFile> {
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
