import type { Tx } from '../../../platform/database/db.ts';

/** More names than all lists of an organizer have; the ones that were used last stay. */
const MOST_KEPT = 2000;

export interface Words {
  columns: [string, string | null][];
  groups: [string, string][];
}

/** What people said before of columns and classes of lists. */
export async function readWords(db: Tx): Promise<Words> {
  const rows = await db.$queryRaw<{ kind: string; written: string; means: string | null }[]>`
    SELECT kind, written, means FROM list_words ORDER BY used_at DESC LIMIT ${MOST_KEPT}`;
  return {
    columns: rows.flatMap(({ kind, written, means }): Words['columns'] =>
      kind === 'column' ? [[written, means]] : [],
    ),
    groups: rows.flatMap(({ kind, written, means }): Words['groups'] =>
      kind === 'group' && means !== null ? [[written, means]] : [],
    ),
  };
}

/** Remembers what was said, for the next list; what was said before of the same names gives way. */
export async function rememberWords(db: Tx, { columns, groups }: Words, at: Date): Promise<void> {
  const rows = [
    ...columns.map(([written, means]) => ({ kind: 'column', written, means })),
    ...groups.map(([written, means]) => ({ kind: 'group', written, means })),
  ];
  // Two columns of one name, or classes that differ by case only: the first counts.
  const distinct = [...new Map(rows.toReversed().map((row) => [`${row.kind} ${row.written}`, row])).values()];
  if (distinct.length === 0) return;
  await db.$executeRaw`
    INSERT INTO list_words (kind, written, means, used_at)
    SELECT r.kind, r.written, r.means, ${at} FROM jsonb_to_recordset(${JSON.stringify(distinct)}::jsonb)
      AS r (kind text, written text, means text)
    ON CONFLICT (kind, written) DO UPDATE SET means = EXCLUDED.means, used_at = EXCLUDED.used_at`;
  await db.$executeRaw`
    DELETE FROM list_words WHERE (kind, written) IN
      (SELECT kind, written FROM list_words ORDER BY used_at DESC OFFSET ${MOST_KEPT})`;
}
