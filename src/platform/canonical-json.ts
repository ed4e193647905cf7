import { hash } from 'node:crypto';
import canonicalizeModule from 'canonicalize';

// The package is CommonJS whose typings describe an ES default export; at run time the import is the function.
const canonicalize = canonicalizeModule as unknown as (value: unknown) => string | undefined;

/** JSON in the canonical form of RFC 8785, so that equal values have equal text. */
export function canonicalJson(value: unknown): string {
  return canonicalize(value) ?? 'null';
}

/** SHA-256 of the canonical JSON, in lower-case hexadecimal. */
export function canonicalHash(value: unknown): string {
  return sha256(canonicalJson(value));
}

/** SHA-256 in lower-case hexadecimal, of a text in UTF-8. */
export const sha256 = (text: string | Uint8Array): string => hash('sha256', text);

/** Texts of a JSON array with its commas. */
export const listed = (texts: readonly string[]): string[] =>
  texts.map((text, index) => (index === 0 ? text : `,${text}`));

let scratch = Buffer.allocUnsafe(1 << 18);
const MOST_BYTES_A_LETTER = 3;

/**
 * Texts in UTF-8, one after the other. Not joined before: a single `≥` would make the whole a text of two bytes a letter, which is
 * encoded four times as slowly.
 *
 * @returns bytes that are good until the next call
 */
export function inBytes(texts: readonly string[]): Buffer {
  let at = 0;
  for (const text of texts) {
    const needed = at + text.length * MOST_BYTES_A_LETTER;
    if (needed > scratch.length) scratch = Buffer.concat([scratch.subarray(0, at)], needed * 2);
    at += scratch.write(text, at);
  }
  return scratch.subarray(0, at);
}
