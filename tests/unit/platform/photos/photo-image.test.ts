import { crc32 } from 'node:zlib';
import sharp from 'sharp';
import { describe, expect, test } from 'vitest';
import {
  checkPhotoHeader,
  isHeif,
  PhotoRefused,
  photoTypeOf,
  reencodePhoto,
} from '../../../../src/platform/photos/photo-image.ts';
import { makePhoto, pngHeaderOf } from '../../../support/photos.ts';

const LIMITS = { maxPixels: 50_000_000 };

/** What became of a picture: the reason of its refusal. */
async function reasonOf(work: Promise<unknown>): Promise<string> {
  try {
    await work;
  } catch (error) {
    if (error instanceof PhotoRefused) return error.reason;
    throw error;
  }
  return 'taken';
}

describe('the type of a picture', () => {
  test('is told by its first bytes', async () => {
    for (const format of ['jpeg', 'png', 'webp'] as const) {
      expect(photoTypeOf(await makePhoto({ format })), format).toBe(`image/${format}`);
    }
  });

  test.each([
    ['nothing', ''],
    ['one byte', '\u00ff'],
    ['text', 'hello'],
    ['HTML', '<!doctype html><script>alert(1)</script>'],
    ['SVG', '<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'],
    ['SVG behind an XML declaration', '<?xml version="1.0"?><svg/>'],
    ['GIF', 'GIF89a\u0001\u0000\u0001\u0000'],
    ['PDF', '%PDF-1.7'],
    ['TIFF', 'II*\u0000'],
    ['BMP', 'BM\u0000\u0000'],
    ['a RIFF file that is no WebP', 'RIFF\u0000\u0000\u0000\u0000WAVEfmt '],
    ['a JPEG behind a space', ' \u00ff\u00d8\u00ff'],
  ])('%s has none', async (_what, text) => {
    const bytes = Buffer.from(text, 'latin1');
    expect(photoTypeOf(bytes)).toBeUndefined();
    expect(await reasonOf(checkPhotoHeader(bytes, LIMITS))).toBe('not-a-picture');
  });

  test('HEIC is known, to say how to send it', () => {
    // ISO/IEC 14496-12, 4.3: size, "ftyp", major brand
    expect(isHeif(Buffer.from('\u0000\u0000\u0000\u0018ftypheic\u0000\u0000\u0000\u0000mif1heic', 'latin1'))).toBe(
      true,
    );
    expect(isHeif(Buffer.from('\u0000\u0000\u0000\u0018ftypisom\u0000\u0000\u0000\u0000', 'latin1'))).toBe(false);
  });
});

describe('what is encoded anew', () => {
  test('has no EXIF, GPS or other metadata left', async () => {
    const exif = { IFD0: { Copyright: 'left-over' }, IFD3: { GPSLatitudeRef: 'N', GPSLatitude: '52/1 31/1 12/1' } };
    const withGps = await sharp(await makePhoto())
      .withExif(exif)
      .withXmp('<x>left-over</x>')
      .jpeg()
      .toBuffer();
    expect(withGps.includes('Exif')).toBe(true);
    expect((await sharp(withGps).metadata()).exif?.includes('left-over')).toBe(true);
    const { bytes } = await reencodePhoto(withGps, LIMITS);
    const after = await sharp(bytes).metadata();
    expect([after.exif, after.xmp, after.iptc, after.icc, after.comments]).toEqual(Array(5).fill(undefined));
    for (const text of ['Exif', 'GPS', 'left-over', 'http://ns.adobe.com'])
      expect(bytes.includes(text), text).toBe(false);
  });

  test('has nothing of what followed the picture in its file', async () => {
    const tail = '<script>alert(document.cookie)</script>PK\u0003\u0004';
    const polyglot = Buffer.concat([await makePhoto(), Buffer.from(tail, 'latin1')]);
    const { bytes } = await reencodePhoto(polyglot, LIMITS);
    expect(bytes.includes('script')).toBe(false);
    expect(bytes.subarray(-2).toString('hex')).toBe('ffd9');
  });

  test('stands upright: EXIF orientation 6 means turned a quarter', async () => {
    // Exif 2.32, 4.6.4 A: 6 = row 0 is the right side, column 0 the top
    const turned = await sharp(await makePhoto({ width: 64, height: 48 }))
      .withMetadata({ orientation: 6 })
      .toBuffer();
    expect(await reencodePhoto(turned, LIMITS)).toMatchObject({ width: 48, height: 64 });
  });

  test('has at most 2560 pixels a side, and is never made larger', async () => {
    const wide = await makePhoto({ width: 4000, height: 1000 });
    expect(await reencodePhoto(wide, LIMITS)).toMatchObject({ width: 2560, height: 640, mediaType: 'image/jpeg' });
    expect(await reencodePhoto(await makePhoto(), LIMITS)).toMatchObject({ width: 64, height: 48 });
    const line = await makePhoto({ width: 16_000, height: 1 });
    expect(await reencodePhoto(line, LIMITS)).toMatchObject({ width: 2560, height: 1 });
  });

  test('shows the first frame of a moving picture', async () => {
    const frames = [await makePhoto({ seed: 2 }), await makePhoto({ seed: 9 })];
    const moving = await sharp(frames, { join: { animated: true } })
      .webp({ lossless: true })
      .toBuffer();
    expect((await sharp(moving).metadata()).pages).toBe(2);
    const { bytes, width, height } = await reencodePhoto(moving, LIMITS);
    expect([width, height]).toEqual([64, 48]);
    const colourOf = async (picture: Buffer) => (await sharp(picture).stats()).channels.map(({ mean }) => mean);
    const [wanted, got] = [await colourOf(frames[0] ?? Buffer.alloc(0)), await colourOf(bytes)];
    for (const [index, mean] of got.entries()) expect(Math.abs(mean - (wanted[index] ?? 999))).toBeLessThan(4);
  });

  test('shows what is transparent on white', async () => {
    const background = { r: 0, g: 0, b: 0, alpha: 0 };
    const clear = await sharp({ create: { width: 8, height: 8, channels: 4, background } })
      .png()
      .toBuffer();
    const { channels } = await sharp((await reencodePhoto(clear, LIMITS)).bytes).stats();
    expect(channels.map(({ min }) => min)).toEqual([255, 255, 255]);
  });

  test('is the same bytes for the same picture', async () => {
    const photo = await makePhoto({ seed: 7 });
    expect((await reencodePhoto(photo, LIMITS)).bytes.equals((await reencodePhoto(photo, LIMITS)).bytes)).toBe(true);
  });
});

describe('what is refused', () => {
  test('more pixels than allowed, by the header alone and fast', async () => {
    const bomb = pngHeaderOf(40_000, 40_000);
    expect(await reasonOf(checkPhotoHeader(bomb, LIMITS))).toBe('too-many-pixels');
    const times: number[] = [];
    for (let i = 0; i < 5; i += 1) {
      const start = performance.now();
      await reasonOf(checkPhotoHeader(bomb, LIMITS));
      times.push(performance.now() - start);
    }
    // The quickest: the machine may be busy with something else in one of them.
    expect(Math.min(...times)).toBeLessThan(100);
    expect(await reasonOf(reencodePhoto(bomb, LIMITS))).toBe('damaged');
  });

  test('a picture whose real size is larger than its limit is stopped by the decoder too', async () => {
    const photo = await makePhoto({ width: 300, height: 300 });
    expect(await reasonOf(reencodePhoto(photo, { maxPixels: 80_000 }))).toBe('damaged');
    expect(await reasonOf(checkPhotoHeader(photo, { maxPixels: 80_000 }))).toBe('too-many-pixels');
    expect(await reasonOf(checkPhotoHeader(photo, { maxPixels: 90_000 }))).toBe('taken');
  });

  test.each(['jpeg', 'png', 'webp'] as const)('a %s that is cut off', async (format) => {
    const noise = { type: 'gaussian', mean: 128, sigma: 60 } as const;
    const whole = await sharp({ create: { width: 400, height: 300, channels: 3, background: '#000', noise } })
      .toFormat(format)
      .toBuffer();
    expect(await reasonOf(reencodePhoto(whole, LIMITS))).toBe('taken');
    for (const share of [0.3, 0.6, 0.95]) {
      const cut = whole.subarray(0, Math.floor(whole.length * share));
      expect(await reasonOf(reencodePhoto(cut, LIMITS)), String(share)).toBe('damaged');
    }
    expect(['damaged', 'not-a-picture']).toContain(await reasonOf(checkPhotoHeader(whole.subarray(0, 20), LIMITS)));
  });

  test.each([
    ['an SVG', Buffer.from('<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>')],
    ['a GIF', Buffer.from('R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7', 'base64')],
  ])('%s, even by the decoder that other parts of the library would have', async (_what, bytes) => {
    expect(await reasonOf(reencodePhoto(bytes, LIMITS))).toBe('damaged');
  });

  test('the headers of the tests are real: the checksum is that of zlib', () => {
    const png = pngHeaderOf(3, 4);
    expect(png.readUInt32BE(29)).toBe(crc32(png.subarray(12, 29)));
  });
});
