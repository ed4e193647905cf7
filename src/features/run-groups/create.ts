import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { assertRunGroupMakesSense, translateNameTaken } from './check.ts';
import type { RunGroupInput, RunGroupView } from './schemas.ts';
import { findEventFrame, insertRunGroup } from './store.ts';
import { toRunGroupView } from './view.ts';

export interface RunGroupAnswer {
  view: RunGroupView;
  rev: number;
}

/** @throws ProblemError `not-found` (the event), `not-acceptable`, `name-taken` */
export async function createRunGroup(deps: Deps, eventId: string, input: RunGroupInput): Promise<RunGroupAnswer> {
  const db = deps.db.prisma;
  const event = await findEventFrame(db, eventId);
  if (event === undefined) throw notFound('event');
  const data = { ...input, firstSessionAt: new Date(input.firstSessionAt) };
  await assertRunGroupMakesSense(db, event, data);
  const stored = await insertRunGroup(db, eventId, data).catch((error) => translateNameTaken(error, data.name));
  return { view: toRunGroupView(stored, event), rev: stored.rev };
}
