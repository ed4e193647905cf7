import type { FastifyInstance } from 'fastify';
import { STAFF } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { addRoute } from '../../http/frame/route.ts';
import { RESOLVED_EXAMPLE, ResolvedRulesView, resolvedRulesParams } from './resolved-schemas.ts';
import type { Origins } from '../../domain/rules/overlay/overlay.ts';
import type { ParameterOverride, RuleSet } from '../../domain/rules/model/rule-set.ts';
import { notFound } from '../../http/frame/problem.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { getRules, overridesOf } from '../../records/judging/rules.ts';
import { findGroupRules } from './resolved-store.ts';

/** The rules as they judge a run group: version, venue and group put together, nothing hidden. */
export async function resolvedRulesRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    tag: 'Rule sets',
    access: STAFF,
    method: 'GET',
    path: '/run-groups/:runGroupId/resolved-rules',
    operationId: 'getResolvedRules',
    summary: 'Read the rules that judge a run group, and where each value came from',
    description: 'Rule set, venue and run group put together; each value says which of the three it is from.',
    params: resolvedRulesParams,
    success: { 200: { description: 'The rules', schema: ResolvedRulesView, example: RESOLVED_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await readResolvedRules(deps, params.runGroupId) }),
  });
}

/**
 * The rules as they judge a run group, with where each value came from.
 *
 * @throws ProblemError `not-found`
 */
async function readResolvedRules(deps: Deps, runGroupId: string): Promise<ResolvedRulesView> {
  const db = deps.db.prisma;
  const group = await findGroupRules(db, runGroupId);
  if (group === undefined) throw notFound('run group');
  const { compiled, origins } = await getRules(db, group);
  const { ruleSet } = compiled;
  return {
    runGroupId,
    ruleSetId: group.ruleSetId,
    ruleSetVersion: group.ruleSetVersion,
    name: ruleSet.name,
    rulesHash: group.resolvedHash,
    venueRulesAreNewer: canonicalHash(group.taken) !== canonicalHash(group.today),
    parameters: Object.keys(ruleSet.parameters).map((name) =>
      viewParameter(ruleSet, origins, name, overridesOf(group)),
    ),
    rules: ruleSet.rules.map((rule) => ({ from: 'rule-set', ...origins.rules[rule.id], rule: { ...rule } })),
  };
}

/** `overrides` are those of groups from before overlays, whose rules do not have them in them. */
function viewParameter(
  ruleSet: RuleSet,
  origins: Origins,
  name: string,
  overrides: Readonly<Record<string, ParameterOverride>>,
): ResolvedRulesView['parameters'][number] {
  const { value, unit, meaning, source } = ruleSet.parameters[name] ?? { value: '', meaning: '' };
  const own = { value, ...(unit === undefined ? {} : { unit }) };
  const override = overrides[name];
  return {
    name,
    ...own,
    ...override,
    meaning,
    ...(source === undefined ? {} : { source }),
    ...(override === undefined ? { from: 'rule-set' } : { from: 'run-group', was: own }),
    ...origins.parameters[name],
  };
}
