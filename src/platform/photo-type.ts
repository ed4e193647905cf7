/** What a picture may be, told by its first bytes. */
export const PHOTO_TYPES = ['image/jpeg', 'image/png', 'image/webp'] as const;
export type PhotoType = (typeof PHOTO_TYPES)[number];

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
