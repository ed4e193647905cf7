import { isUtf8 } from 'node:buffer';
import iconv from 'iconv-lite';

/** Encodings that lists come in. */
export const ENCODINGS = ['utf-8', 'utf-16le', 'utf-16be', 'windows-1252'] as const;
export type Encoding = (typeof ENCODINGS)[number];

/** Enough of a file to tell by; the first line alone may be plain ASCII. */
const LOOKED_AT = 64 * 1024;
/** Share of zero bytes on one side from which text is taken for UTF-16: in Latin script nearly every second byte is zero. */
const MOSTLY = 0.4;

const MARKS: readonly (readonly [Encoding, readonly number[]])[] = [
  ['utf-8', [0xef, 0xbb, 0xbf]],
  ['utf-16le', [0xff, 0xfe]],
  ['utf-16be', [0xfe, 0xff]],
];

/**
 * What a file of text is written in: by its byte order mark (Unicode 16.0, section 23.8), else UTF-16 by its zero bytes, else
 * UTF-8 where all of it is, else what spreadsheets of Western Europe write without saying so.
 */
export function encodingOf(bytes: Buffer): Encoding {
  const marked = MARKS.find(([, mark]) => mark.every((byte, at) => bytes[at] === byte));
  if (marked !== undefined) return marked[0];
  const part = bytes.subarray(0, LOOKED_AT);
  const zeros = [0, 0];
  for (const [at, byte] of part.entries()) if (byte === 0) zeros[at % 2] = (zeros[at % 2] ?? 0) + 1;
  const [even = 0, odd = 0] = zeros;
  const pairs = Math.max(1, part.length / 2);
  if (odd / pairs > MOSTLY && odd > even) return 'utf-16le';
  if (even / pairs > MOSTLY && even > odd) return 'utf-16be';
  return isUtf8(bytes) ? 'utf-8' : 'windows-1252';
}

// The decoder of Node 20 reads windows-1252 as ISO 8859-1: the euro sign and quotation marks would be lost.
export const decode = (bytes: Buffer, encoding: Encoding): string => iconv.decode(bytes, encoding);
