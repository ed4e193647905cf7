import { notFound } from '../../../http/frame/problem.ts';
import type { Tx } from '../../../platform/database/db.ts';
import type { EntryRecordView } from './schemas.ts';

type SignOff = EntryRecordView['signOffs'][number];

const given = <K extends string, V>(name: K, value: V | null | undefined): { [P in K]?: V } =>
  (value === null || value === undefined ? {} : { [name]: value }) as { [P in K]?: V };

/**
 * What people said, saw, measured and decided about an entry: who said each declaration, every sign-off with what was looked
 * at, and its conditions with who saw that they are done.
 *
 * @throws ProblemError `not-found`
 */
export async function readEntryRecord(db: Tx, entryId: string): Promise<EntryRecordView> {
  const where = { entryId };
  const entry = await db.entry.findUnique({ where: { id: entryId }, select: { id: true } });
  if (entry === null) throw notFound('entry');
  const [inspections, conditions] = await Promise.all([
    db.inspection.findMany({
      where: { ...where, cause: 'submitted' },
      select: { id: true, revision: true, submittedName: true, submittedAt: true },
      orderBy: { revision: 'desc' },
    }),
    db.condition.findMany({ where, orderBy: [{ signOffId: 'asc' }, { id: 'asc' }] }),
  ]);
  const signOffs = await db.signOff.findMany({ where, orderBy: [{ signedAt: 'desc' }, { id: 'desc' }] });
  return {
    entryId,
    submissions: inspections.map(({ id, revision, submittedName, submittedAt }) => ({
      inspectionId: id,
      revision,
      by: submittedName,
      at: submittedAt.toISOString(),
    })),
    signOffs: signOffs.map((row) => ({
      signOffId: row.id,
      inspectionId: row.inspectionId,
      // Checks of the database keep the column.
      decision: row.decision as SignOff['decision'],
      by: row.signedName,
      at: row.signedAt.toISOString(),
      ...given('note', row.note),
      ...given('stickerNumber', row.stickerNumber),
      // Written by sign-offs only, from parsed checks.
      checks: row.checks as SignOff['checks'],
    })),
    conditions: conditions.map(({ id, signOffId, text, dueAt, doneAt, doneName, doneNote }) => ({
      conditionId: id,
      signOffId,
      text,
      ...given('dueAt', dueAt?.toISOString()),
      ...(doneAt === null
        ? {}
        : { done: { by: doneName ?? '', at: doneAt.toISOString(), ...given('note', doneNote) } }),
    })),
  };
}
