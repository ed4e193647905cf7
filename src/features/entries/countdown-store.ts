import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import type { Tx } from '../../platform/database/db.ts';

/** What a countdown reads beside what judges the entry. */
export interface CountdownRow {
  /** name of the event */
  event: string;
  /** what the gate knows of the entry */
  facts: ClearanceFacts;
  /** answers of the draft, the newest that anybody gave */
  answers: Record<string, unknown>;
  /** cells of what was read of the pads after sessions, oldest first */
  pads: readonly { session: string | null; cells: Readonly<Record<string, unknown>> }[];
}

/** Undefined when there is no such entry. */
export async function findCountdown(db: Tx, entryId: string): Promise<CountdownRow | undefined> {
  const row = await db.clearance.findUnique({
    where: { entryId },
    select: {
      facts: true,
      entry: {
        select: {
          event: { select: { name: true } },
          draft: { select: { answers: true } },
          log: {
            where: { kind: 'pads' },
            orderBy: [{ at: 'asc' }, { id: 'asc' }],
            select: { session: true, content: true },
          },
        },
      },
    },
  });
  if (row === null) return undefined;
  const { event, draft, log } = row.entry;
  return {
    event: event.name,
    // written by the fold of the history only
    facts: row.facts as unknown as ClearanceFacts,
    answers: (draft?.answers ?? {}) as Record<string, unknown>,
    pads: log.map(({ session, content }) => ({ session, cells: cellsIn(content) })),
  };
}

/** Written by the log of the entry, from typed values. */
function cellsIn(content: unknown): Readonly<Record<string, unknown>> {
  const { cells } = content as { cells?: Record<string, unknown> };
  return cells ?? {};
}
