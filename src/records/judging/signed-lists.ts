import { brotliCompressSync, brotliDecompressSync, constants } from 'node:zlib';
import type { Finding } from '../../domain/rules/model/finding.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { canonicalFindings, EVALUATOR, sha256 } from './told.ts';

/** All that a decision of the line rests on besides what was declared and checked. */
export interface SignedLists {
  /** the car as the line knew it when it decided */
  car: { vehicle: Vehicle; unconfirmed: readonly string[] };
  /** what the inspector was shown: the declaration with the exceptions, the photos and the other entries of then */
  shown: readonly Finding[];
  /** the same with what he checked */
  line: readonly Finding[];
  /** what the entrant was told at the submission; absent where that is what was shown, or does not come out again any more */
  told?: readonly Finding[] | undefined;
}

/** More than any list comes to: what is larger is no list of ours. */
const MAX_BYTES = 50_000_000;
// The lists are mostly the same: what repeats is found over their whole length, which a small window would not see.
const QUICK = { params: { [constants.BROTLI_PARAM_QUALITY]: 3, [constants.BROTLI_PARAM_LGWIN]: 20 } };

/** Lists as they are written down. */
export interface PackedLists {
  /** what judged them */
  evaluator: string;
  /** compressed */
  lists: Buffer;
  /** of their JSON in the canonical form of RFC 8785, before it is compressed; lower-case hexadecimal */
  listsSha256: string;
}

export function packLists({ car, shown, line, told }: SignedLists): PackedLists {
  const parts = [
    `"car":${canonicalJson(car)}`,
    `"line":${canonicalFindings(line)}`,
    `"shown":${canonicalFindings(shown)}`,
    ...(told === undefined ? [] : [`"told":${canonicalFindings(told)}`]),
  ];
  const text = `{${parts.join(',')}}`;
  return { evaluator: EVALUATOR, lists: brotliCompressSync(text, QUICK), listsSha256: sha256(text) };
}

/** @throws where these are no lists: the row is damaged */
export function unpackLists(lists: Uint8Array): { lists: SignedLists; listsSha256: string } {
  const text = brotliDecompressSync(lists, { maxOutputLength: MAX_BYTES }).toString('utf8');
  // written by `packLists` only
  return { lists: JSON.parse(text) as SignedLists, listsSha256: sha256(text) };
}
