import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import type { VersionView } from './schemas.ts';
import { findRuleSet, findVersion, listVersions } from './store.ts';

/** @throws ProblemError `not-found` (the rule set) */
export async function readVersions(deps: Deps, ruleSetId: string): Promise<Omit<VersionView, 'document'>[]> {
  if ((await findRuleSet(deps.db.prisma, ruleSetId)) === undefined) throw notFound('rule set');
  return listVersions(deps.db.prisma, ruleSetId);
}

/** @throws ProblemError `not-found` */
export async function readVersion(deps: Deps, ids: { ruleSetId: string; version: number }): Promise<VersionView> {
  const found = await findVersion(deps.db.prisma, ids.ruleSetId, ids.version);
  if (found === undefined) throw notFound('version of a rule set');
  return found;
}
