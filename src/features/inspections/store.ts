import type { Finding, Verdict } from '../../domain/rules/finding.ts';
import type { ParameterOverride } from '../../domain/rules/rule-set.ts';
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

export interface NewInspection {
  inspectionId: string;
  entryId: string;
  revision: number;
  answers: Record<string, unknown>;
  vehicle: unknown;
  /** event days, venue and declaration window as they were */
  context: unknown;
  ruleSetId: string;
  ruleSetVersion: number;
  parameters: Readonly<Record<string, ParameterOverride>>;
  verdict: Verdict;
  findings: readonly Finding[];
  by: { tokenId: string; name: string };
  at: Date;
}

export async function insertInspection(tx: Tx, inspection: NewInspection): Promise<void> {
  await tx.inspection.create({
    data: {
      id: inspection.inspectionId,
      entryId: inspection.entryId,
      revision: inspection.revision,
      answers: json(inspection.answers),
      vehicle: json(inspection.vehicle),
      context: json(inspection.context),
      ruleSetId: inspection.ruleSetId,
      ruleSetVersion: inspection.ruleSetVersion,
      parameters: json(inspection.parameters),
      verdict: inspection.verdict,
      findings: json(inspection.findings),
      submittedBy: inspection.by.tokenId,
      submittedName: inspection.by.name,
      submittedAt: inspection.at,
    },
  });
}

/** The number of the next revision of a locked entry: nobody else counts at the same time. */
export async function nextRevision(tx: Tx, entryId: string): Promise<number> {
  return (await tx.inspection.count({ where: { entryId } })) + 1;
}
