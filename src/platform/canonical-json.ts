import { createHash } from 'node:crypto';
import canonicalizeModule from 'canonicalize';

// The package is CommonJS whose typings describe an ES default export; at run time the import is the function.
const canonicalize = canonicalizeModule as unknown as (value: unknown) => string | undefined;

/** JSON in the canonical form of RFC 8785, so that equal values have equal text. */
export function canonicalJson(value: unknown): string {
  return canonicalize(value) ?? 'null';
}

/** SHA-256 of the canonical JSON, in lower-case hexadecimal. */
export function canonicalHash(value: unknown): string {
  return createHash('sha256').update(canonicalJson(value)).digest('hex');
}
