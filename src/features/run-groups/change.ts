import type { Deps } from '../../deps.ts';
import type { ParameterOverride } from '../../domain/rules/rule-set.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound } from '../../http/problem.ts';
import { assertRunGroupMakesSense, translateNameTaken } from './check.ts';
import type { RunGroupAnswer } from './create.ts';
import type { RunGroupChanges } from './schemas.ts';
import { findEventFrame, findRunGroup, type RunGroupData, type StoredRunGroup, updateRunGroup } from './store.ts';
import { toRunGroupView } from './view.ts';

/**
 * Changes the fields that are given, starting from the version the caller read. Another rule set or version is checked
 * against the overrides that stay.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`, `name-taken`
 */
export async function changeRunGroup(
  deps: Deps,
  ids: { eventId: string; runGroupId: string },
  ifMatch: string | undefined,
  changes: RunGroupChanges,
): Promise<RunGroupAnswer> {
  const db = deps.db.prisma;
  const event = await findEventFrame(db, ids.eventId);
  const current = await findRunGroup(db, ids.eventId, ids.runGroupId);
  if (event === undefined || current === undefined) throw notFound('run group');
  assertIfMatch(ifMatch, etagOf(current.rev));
  const wanted = applyChanges(current, changes);
  await assertRunGroupMakesSense(db, event, wanted);
  const updated = await updateRunGroup(db, ids.runGroupId, current.rev, wanted).catch((error) =>
    translateNameTaken(error, wanted.name),
  );
  if (updated !== undefined) return { view: toRunGroupView(updated, event), rev: updated.rev };
  const winner = await findRunGroup(db, ids.eventId, ids.runGroupId);
  throw stale(etagOf(winner?.rev ?? current.rev));
}

function applyChanges(current: StoredRunGroup, changes: RunGroupChanges): RunGroupData {
  const { firstSessionAt, parameters = {}, ...plain } = changes;
  const { name, order, ruleSetId, ruleSetVersion } = { ...current, ...plain };
  return {
    name,
    order,
    ruleSetId,
    ruleSetVersion,
    firstSessionAt: firstSessionAt === undefined ? current.firstSessionAt : new Date(firstSessionAt),
    parameters: mergeOverrides(current.parameters, parameters),
  };
}

function mergeOverrides(
  current: Readonly<Record<string, ParameterOverride>>,
  changes: NonNullable<RunGroupChanges['parameters']>,
): Record<string, ParameterOverride> {
  const merged = Object.entries({ ...current, ...changes });
  return Object.fromEntries(merged.filter((pair): pair is [string, ParameterOverride] => pair[1] !== null));
}
