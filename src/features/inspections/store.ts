import type { Tx } from '../../platform/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';

export interface Draft {
  answers: Record<string, unknown>;
  /** 0 when nothing is saved yet */
  rev: number;
}

const json = (value: unknown) => value as Prisma.InputJsonValue;

export async function getDraft(db: Tx, entryId: string): Promise<Draft> {
  const row = await db.draft.findUnique({ where: { entryId } });
  return row === null ? { answers: {}, rev: 0 } : { answers: row.answers as Record<string, unknown>, rev: row.rev };
}

/** Saves the draft if it still has the version `rev` (0: none is there yet); returns whether it did. */
export async function saveDraft(
  db: Tx,
  draft: { entryId: string; rev: number; answers: Record<string, unknown>; by: string; at: Date },
): Promise<boolean> {
  const data = { answers: json(draft.answers), updatedBy: draft.by, updatedAt: draft.at };
  if (draft.rev === 0) {
    const { count } = await db.draft.createMany({ data: { entryId: draft.entryId, ...data }, skipDuplicates: true });
    return count === 1;
  }
  const { count } = await db.draft.updateMany({
    where: { entryId: draft.entryId, rev: draft.rev },
    data: { ...data, rev: { increment: 1 } },
  });
  return count === 1;
}

/** Overwrites whatever draft there is: the answers were just submitted. */
export async function replaceDraft(
  db: Tx,
  draft: { entryId: string; answers: Record<string, unknown>; by: string; at: Date },
): Promise<void> {
  const data = { answers: json(draft.answers), updatedBy: draft.by, updatedAt: draft.at };
  await db.draft.upsert({
    where: { entryId: draft.entryId },
    create: { entryId: draft.entryId, ...data },
    update: { ...data, rev: { increment: 1 } },
  });
}
