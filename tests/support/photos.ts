import sharp from 'sharp';
import type { TestApp, TestToken } from './app.ts';

/** A picture of one colour, with as much noise as `seed` asks for, so that two seeds are two pictures. */
export async function makePhoto(
  options: { seed?: number; width?: number; height?: number; format?: 'jpeg' | 'png' | 'webp' } = {},
): Promise<Buffer> {
  const { seed = 1, width = 64, height = 48, format = 'jpeg' } = options;
  const background = { r: (seed * 53) % 256, g: (seed * 97) % 256, b: (seed * 193) % 256 };
  return sharp({ create: { width, height, channels: 3, background } })
    .toFormat(format)
    .toBuffer();
}

/** Sends a picture as it is. */
export function sendPhoto(
  test: TestApp,
  as: TestToken | 'inspector' | 'chief',
  entryId: string,
  bytes: Buffer,
  options: { item?: string; position?: string; type?: string } = {},
) {
  const { item = 'pad.thickness', position, type = 'image/jpeg' } = options;
  return test
    .api(as)
    .post(`/v1/entries/${entryId}/photos`)
    .query(position === undefined ? { item } : { item, position })
    .set('content-type', type)
    .send(bytes);
}

/** A PNG of this size by its header; what follows is no picture (W3C PNG, 11.2.2: IHDR). */
export function pngHeaderOf(width: number, height: number): Buffer {
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width, 0);
  header.writeUInt32BE(height, 4);
  header.set([8, 2, 0, 0, 0], 8);
  const signature = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);
  return Buffer.concat([signature, pngChunk('IHDR', header), pngChunk('IDAT', Buffer.alloc(32)), pngChunk('IEND')]);
}

function pngChunk(type: string, data: Buffer = Buffer.alloc(0)): Buffer {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const ends = Buffer.alloc(4);
  ends.writeUInt32BE(crc32(body));
  const length = Buffer.alloc(4);
  length.writeUInt32BE(data.length);
  return Buffer.concat([length, body, ends]);
}

/** W3C PNG, annex D: the cyclic redundancy code of a chunk. */
function crc32(bytes: Buffer): number {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit += 1) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  }
  return (crc ^ 0xffffffff) >>> 0;
}
