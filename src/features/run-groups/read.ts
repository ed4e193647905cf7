import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import type { RunGroupAnswer } from './create.ts';
import type { RunGroupView } from './schemas.ts';
import { findEventFrame, findRunGroup, listRunGroups } from './store.ts';
import { toRunGroupView } from './view.ts';

/** @throws ProblemError `not-found` (the event) */
export async function readRunGroups(deps: Deps, eventId: string): Promise<RunGroupView[]> {
  const event = await findEventFrame(deps.db.prisma, eventId);
  if (event === undefined) throw notFound('event');
  const groups = await listRunGroups(deps.db.prisma, eventId);
  return groups.map((group) => toRunGroupView(group, event));
}

/** @throws ProblemError `not-found` */
export async function readRunGroup(deps: Deps, ids: { eventId: string; runGroupId: string }): Promise<RunGroupAnswer> {
  const event = await findEventFrame(deps.db.prisma, ids.eventId);
  const group = await findRunGroup(deps.db.prisma, ids.eventId, ids.runGroupId);
  if (event === undefined || group === undefined) throw notFound('run group');
  return { view: toRunGroupView(group, event), rev: group.rev };
}
