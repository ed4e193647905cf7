import type { Deps } from '../../deps.ts';
import { compileRuleSet } from '../../domain/rules/evaluate.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { listNewestInspections } from '../../records/trial-inspections.ts';
import { tryInspections } from '../../records/try-inspections.ts';
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
 * @throws ProblemError `not-found`, `not-acceptable`
 */
export async function previewRunGroup(
  deps: Deps,
  ids: { eventId: string; runGroupId: string },
  changes: RunGroupChanges,
): Promise<RunGroupPreview> {
  const db = deps.db.prisma;
  const event = await findEventFrame(db, ids.eventId);
  const current = await findRunGroup(db, ids.eventId, ids.runGroupId);
  if (event === undefined || current === undefined) throw notFound('run group');
  const { wanted, rules: changed } = await applyChanges(db, event, current, changes);
  const rules = changed ?? (await prepareCurrent(db, current));
  const { hash, ruleSet, origins } = rules;
  const { runGroupId, resolvedHash } = current;
  const tried = { compiled: compileRuleSet(ruleSet), origins };
  const inspections = await listNewestInspections(db, { runGroupId });
  const summary = await tryInspections(db, inspections, { tried: ruleSet, rulesOf: () => tried });
  const foreseen = await foreseeRejudgement(db, runGroupId, { ...wanted, ...tried, hash }, deps.clock.now());
  return { ...summary, preview: hash, sameRules: hash === resolvedHash, ...foreseen };
}

/** The rules of today: a change that does not touch them leads there. */
async function prepareCurrent(db: Tx, current: StoredRunGroup): Promise<PreparedRules> {
  const rules = await prepareRules(db, current, current);
  if (rules.ok) return rules;
  throw new ProblemError('not-acceptable', rules.errors.map(({ detail }) => detail).join(' '), {
    errors: rules.errors,
  });
}
