import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { findInspection, listInspections } from '../../records/inspections.ts';
import { findJudgingContext } from '../../records/judging-context.ts';
import { findPlace } from '../../records/tickets.ts';
import type { InspectionView } from './schemas.ts';
import { viewInspection } from './view.ts';

/**
 * One revision; an entrant sees those of the own entry only.
 *
 * @throws ProblemError `not-found`
 */
export async function getInspection(deps: Deps, actor: Actor, inspectionId: string): Promise<InspectionView> {
  const inspection = await findInspection(deps.db.prisma, inspectionId);
  const hidden = actor.role === 'entrant' && inspection?.entryId !== actor.entryId;
  if (inspection === undefined || hidden) throw notFound('inspection');
  return viewInspection(inspection, await findPlace(deps.db.prisma, inspectionId));
}

/**
 * All revisions of an entry, newest first. Only the newest can be on the line.
 *
 * @throws ProblemError `not-found`
 */
export async function listRevisions(deps: Deps, entryId: string): Promise<InspectionView[]> {
  const db = deps.db.prisma;
  if ((await findJudgingContext(db, entryId)) === undefined) throw notFound('entry');
  const [newest, ...older] = await listInspections(db, entryId);
  if (newest === undefined) return [];
  const place = await findPlace(db, newest.inspectionId);
  return [viewInspection(newest, place), ...older.map((inspection) => viewInspection(inspection, undefined))];
}
