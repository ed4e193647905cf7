import { brotliCompressSync, brotliDecompressSync, constants } from 'node:zlib';
import type { Finding } from '../../domain/rules/model/finding.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { canonicalFinding } from '../../domain/rules/model/canonical-finding.ts';
import { canonicalJson, inBytes, listed, sha256 } from '../../platform/canonical-json.ts';
import { EVALUATOR } from './inspections.ts';

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
// One step more costs a third again for a fortieth of the size.
const QUICK = { params: { [constants.BROTLI_PARAM_QUALITY]: 2, [constants.BROTLI_PARAM_LGWIN]: 18 } };

/** Lists as they are written down. */
export interface PackedLists {
  /** what judged them */
  evaluator: string;
  /** compressed */
  lists: Buffer;
  /** of their JSON in the canonical form of RFC 8785, before it is compressed; lower-case hexadecimal */
  listsSha256: string;
}

/**
 * Lists as they are written down. What was shown and told is mostly what came out at the line: such a finding is written once, and
 * stands in the other lists as the number of places that it is further on in `line`, which is mostly 0.
 */
export function packLists({ car, shown, line, told }: SignedLists): PackedLists {
  const texts = line.map(canonicalFinding);
  const beside = (findings: readonly Finding[]): string[] => {
    let further = 0;
    return findings.map((finding, place) => {
      const text = canonicalFinding(finding);
      const index = texts[place + further] === text ? place + further : texts.indexOf(text);
      if (index < 0) return text;
      further = index - place;
      return String(further);
    });
  };
  const bytes = inBytes([
    `{"car":${canonicalJson(car)},"line":[`,
    ...listed(texts),
    '],"shown":[',
    ...listed(beside(shown)),
    ...(told === undefined ? [] : ['],"told":[', ...listed(beside(told))]),
    ']}',
  ]);
  return { evaluator: EVALUATOR, lists: brotliCompressSync(bytes, QUICK), listsSha256: sha256(bytes) };
}

/** As `packLists` writes them; before, every list was whole. */
type WrittenLists = Omit<SignedLists, 'shown' | 'told'> &
  Partial<Record<'shown' | 'told', readonly (Finding | number)[]>>;

/** @throws where these are no lists: the row is damaged */
export function unpackLists(lists: Uint8Array): { lists: SignedLists; listsSha256: string } {
  const bytes = brotliDecompressSync(lists, { maxOutputLength: MAX_BYTES });
  // written by `packLists` only
  const { shown = [], told, ...written } = JSON.parse(bytes.toString('utf8')) as WrittenLists;
  const whole = (findings: readonly (Finding | number)[]): Finding[] =>
    findings.map((finding, place) => (typeof finding === 'number' ? atIndex(written.line, place + finding) : finding));
  const read = { ...written, shown: whole(shown), ...(told === undefined ? {} : { told: whole(told) }) };
  return { lists: read, listsSha256: sha256(bytes) };
}

function atIndex(line: readonly Finding[], index: number): Finding {
  const finding = line[index];
  if (finding === undefined) throw new Error('a list of a sign-off names a finding that it does not have');
  return finding;
}
