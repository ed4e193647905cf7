import { brotliCompressSync, brotliDecompressSync, constants } from 'node:zlib';
import type { ReadWith } from '../../domain/line/instruments.ts';
import type { Finding } from '../../domain/rules/model/finding.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { PhotoCounts } from '../photos.ts';
import type { StoredInspection } from './inspections.ts';
import { canonicalFindings, EVALUATOR, sha256 } from './told.ts';

/** One check of a sign-off as it was stored: a measurement or what was seen. */
export interface StoredCheck {
  item: string;
  position?: string;
  value?: unknown;
  readWith?: ReadWith;
  result?: 'ok' | 'not-ok';
  note?: string;
}

/** The newest decision of the line about an inspection. */
export interface StoredSignOff {
  signOffId: string;
  decision: string;
  checks: readonly StoredCheck[];
  /** those that count; all of them where there are no lists */
  findings: readonly Finding[];
  /** undefined in what was decided before they were kept */
  lists: SignedLists | undefined;
  /** the photos that counted when it was decided */
  photos: PhotoCounts;
  signedName: string;
  signedAt: Date;
}

export async function findNewestSignOff(db: Tx, inspectionId: string): Promise<StoredSignOff | undefined> {
  const row = await db.signOff.findFirst({ where: { inspectionId }, orderBy: [{ signedAt: 'desc' }, { id: 'desc' }] });
  if (row === null) return undefined;
  return {
    signOffId: row.id,
    decision: row.decision,
    // both are written by the sign-off only, from typed values, and a trigger keeps them as they are
    checks: row.checks as unknown as readonly StoredCheck[],
    findings: row.findings as unknown as readonly Finding[],
    lists: row.lists === null ? undefined : unpackLists(row.lists).lists,
    photos: await findPhotosOf(db, row),
    signedName: row.signedName,
    signedAt: row.signedAt,
  };
}

/** The history row of a sign-off tells the photos, where there were some. */
async function findPhotosOf(db: Tx, signOff: { id: string; entryId: string }): Promise<PhotoCounts> {
  const rows = await db.$queryRaw<{ photos: PhotoCounts | null }[]>`
    SELECT data->'photos' AS photos FROM history
    WHERE entry_id = ${signOff.entryId}::uuid AND action = 'entry.signed-off' AND data->'event'->>'signOffId' = ${signOff.id}`;
  return rows[0]?.photos ?? {};
}

/** All that was told of an inspection, as the first decision about it kept it; undefined where none did. */
export async function findSignedList(
  db: Tx,
  { inspectionId, kept }: Pick<StoredInspection, 'inspectionId' | 'kept'>,
): Promise<readonly Finding[] | undefined> {
  const row = await db.signOff.findFirst({
    where: { inspectionId, lists: { not: null } },
    orderBy: [{ signedAt: 'asc' }, { id: 'asc' }],
    select: { lists: true },
  });
  if (row === null || row.lists === null) return undefined;
  const { shown, told = shown } = unpackLists(row.lists).lists;
  return sha256(canonicalFindings(told)) === kept?.findingsSha256 ? told : undefined;
}

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
