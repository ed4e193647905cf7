import sharp from 'sharp';

/** What a picture may be, told by its first bytes. */
export const PHOTO_TYPES = ['image/jpeg', 'image/png', 'image/webp'] as const;
type PhotoType = (typeof PHOTO_TYPES)[number];

const JPEG = Buffer.from([0xff, 0xd8, 0xff]);
const PNG = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);

/**
 * The type of a picture by its first bytes; `undefined` for everything else, whatever it is called.
 *
 * @see https://mimesniff.spec.whatwg.org/#matching-an-image-type-pattern for the patterns
 */
export function photoTypeOf(bytes: Buffer): PhotoType | undefined {
  if (startsWith(bytes, JPEG)) return 'image/jpeg';
  if (startsWith(bytes, PNG)) return 'image/png';
  const isWebp = textAt(bytes, 0, 4) === 'RIFF' && textAt(bytes, 8, 14) === 'WEBPVP';
  return isWebp ? 'image/webp' : undefined;
}

/** Brands of the file type box (ISO/IEC 14496-12, 4.3) under which telephones store HEIC and AVIF pictures. */
const HEIF_BRANDS = new Set(['heic', 'heix', 'heim', 'heis', 'hevc', 'hevx', 'mif1', 'msf1', 'avif', 'avis']);

/** Whether it is a HEIC or AVIF picture: what some telephones make unless told otherwise, so its refusal says how. */
export function isHeif(bytes: Buffer): boolean {
  return textAt(bytes, 4, 8) === 'ftyp' && HEIF_BRANDS.has(textAt(bytes, 8, 12));
}

function startsWith(bytes: Buffer, start: Buffer): boolean {
  return bytes.subarray(0, start.length).equals(start);
}

function textAt(bytes: Buffer, from: number, to: number): string {
  return bytes.toString('latin1', from, to);
}

/** Longest side of a stored photo: enough to read a label, small enough for a telephone. */
const LONGEST_SIDE_PX = 2560;
const JPEG_QUALITY = 82;
/** Far more than a large photo needs here: a picture made to take long must end. */
const MAX_SECONDS = 15;

// One thread for each picture and nothing kept between them: the rest of the process answers the gate meanwhile.
sharp.concurrency(1);
sharp.cache(false);
// Whatever the bytes claim to be, no other reader of the library (SVG, PDF, TIFF, …) ever sees them.
sharp.block({ operation: ['VipsForeignLoad'] });
sharp.unblock({
  operation: ['VipsForeignLoadJpegBuffer', 'VipsForeignLoadPngBuffer', 'VipsForeignLoadWebpBuffer'],
});

/** A photo as it is stored: pixels only, without metadata and without whatever followed the picture in its file. */
export interface StoredImage {
  bytes: Buffer;
  mediaType: 'image/jpeg';
  /** pixels */
  width: number;
  height: number;
}

/** A picture that cannot be taken. `message` is for the person who sent it. */
export class PhotoRefused extends Error {
  readonly reason: 'not-a-picture' | 'too-many-pixels' | 'damaged' | 'too-slow';

  constructor(reason: PhotoRefused['reason'], message: string, options?: ErrorOptions) {
    super(message, options);
    this.name = 'PhotoRefused';
    this.reason = reason;
  }
}

/**
 * Reads the size in the header of a picture and refuses one that would decode to too much. Nothing is decoded here.
 *
 * @throws PhotoRefused `not-a-picture`, `too-many-pixels`, `damaged`
 */
export async function checkPhotoHeader(bytes: Buffer, limits: { maxPixels: number }): Promise<PhotoType> {
  const type = photoTypeOf(bytes);
  if (type === undefined) throw new PhotoRefused('not-a-picture', 'The content is no JPEG, PNG or WebP picture.');
  const { width, height } = await sharp(bytes, { limitInputPixels: false })
    .metadata()
    .catch((error: unknown) => {
      throw damaged(error);
    });
  if (width * height > limits.maxPixels) {
    const most = Math.floor(limits.maxPixels / 1e6);
    throw new PhotoRefused('too-many-pixels', `The picture has ${width} × ${height} pixels; at most ${most} million.`);
  }
  return type;
}

/**
 * Decodes a picture and encodes it anew: turned upright, at most 2560 pixels on its longest side, JPEG, transparency on
 * white. Camera data, position and everything that is not pixels are gone; of a moving picture the first frame is kept.
 * The same bytes give the same result within a version of the library.
 *
 * @param limits `maxPixels` is enforced by the decoder too
 * @throws PhotoRefused `damaged` (also cut off), `too-slow`
 */
export async function reencodePhoto(bytes: Buffer, limits: { maxPixels: number }): Promise<StoredImage> {
  const options = { failOn: 'error', limitInputPixels: limits.maxPixels, sequentialRead: true, pages: 1 } as const;
  try {
    const { data, info } = await sharp(bytes, options)
      .timeout({ seconds: MAX_SECONDS })
      .autoOrient()
      .resize({ width: LONGEST_SIDE_PX, height: LONGEST_SIDE_PX, fit: 'inside', withoutEnlargement: true })
      .flatten({ background: '#ffffff' })
      .jpeg({ quality: JPEG_QUALITY })
      .toBuffer({ resolveWithObject: true });
    return { bytes: data, mediaType: 'image/jpeg', width: info.width, height: info.height };
  } catch (error) {
    if (error instanceof Error && error.message.includes('timeout')) {
      throw new PhotoRefused('too-slow', 'The picture took too long to read.', { cause: error });
    }
    throw damaged(error);
  }
}

function damaged(cause: unknown): PhotoRefused {
  return new PhotoRefused('damaged', 'The picture is damaged or cut off.', { cause });
}
