import type { ReadWith } from '../../domain/line/instruments.ts';
import type { Finding } from '../../domain/rules/model/finding.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { PhotoCounts } from '../photos.ts';
import type { StoredInspection } from './inspections.ts';
import { type SignedLists, unpackLists } from './signed-lists.ts';
import { canonicalFindings, sha256 } from './told.ts';

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
