import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { inThread, URGENCY } from '../../http/in-thread.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { listNewestInspections } from '../../records/trial-inspections.ts';
import { type RunTask, tryInspections } from '../../records/try-inspections.ts';
import { applyChanges } from './change.ts';
import { type PreparedRules, prepareRules } from './prepare-rules.ts';
import { foreseeRejudgement } from './preview-rejudgement.ts';
import type { RunGroupPreview } from './preview-schemas.ts';
import type { RunGroupChanges } from './schemas.ts';
import { findEventFrame, findRunGroup, type StoredRunGroup } from './store.ts';

/**
 * Shows who would change if the run group were changed so: the newest declaration of every entry of the group under the
 * rules that the change leads to, compared with the judgement it got, and the accepted cars that would drop to the
 * line. A change that does not touch the rules shows the rules of today. Nothing is written.
 *
 * @throws ProblemError `not-found`, `not-acceptable`, `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function previewRunGroup(
  deps: Deps,
  actor: Pick<Actor, 'tokenId'>,
  ids: { eventId: string; runGroupId: string },
  changes: RunGroupChanges,
): Promise<RunGroupPreview> {
  const db = deps.db.prisma;
  const event = await findEventFrame(db, ids.eventId);
  const current = await findRunGroup(db, ids.eventId, ids.runGroupId);
  if (event === undefined || current === undefined) throw notFound('run group');
  const { wanted, rules: changed } = await applyChanges(deps, actor, { event, current }, changes);
  const { hash, rules } = changed ?? (await prepareCurrent(deps, actor, current));
  const { runGroupId, resolvedHash } = current;
  const asked = { caller: actor.tokenId, urgency: URGENCY.preview };
  const runTask: RunTask = (task, input) => inThread(deps.threads, task, input, asked);
  const inspections = await listNewestInspections(db, { runGroupId });
  const summary = await tryInspections(db, inspections, { tried: rules, rulesOf: () => rules, runTask });
  const { ruleSetId, ruleSetVersion } = wanted;
  const candidate = { rules, hash, ruleSetId, ruleSetVersion };
  const foreseen = await foreseeRejudgement(db, runGroupId, { candidate, now: deps.clock.now(), runTask });
  return { ...summary, preview: hash, sameRules: hash === resolvedHash, ...foreseen };
}

/** The rules of today: a change that does not touch them leads there. */
async function prepareCurrent(
  deps: Deps,
  actor: Pick<Actor, 'tokenId'>,
  current: StoredRunGroup,
): Promise<PreparedRules> {
  const rules = await prepareRules(deps, actor, current, current);
  if (rules.ok) return rules;
  throw new ProblemError('not-acceptable', rules.errors.map(({ detail }) => detail).join(' '), {
    errors: rules.errors,
  });
}
