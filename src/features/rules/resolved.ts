import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { EFFECTS } from '../../domain/rules/model/finding.ts';
import type { ParameterOverride, RuleSet } from '../../domain/rules/model/rule-set.ts';
import { LAYERS, type Origins } from '../../domain/rules/overlay/overlay.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { getRules, overridesOf } from '../../records/judging/rules.ts';
import { findGroupRules } from './overlay-store.ts';

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

const Layer = z.enum(LAYERS).describe('Where it comes from');
const Value = z.union([z.number(), z.string(), z.boolean(), z.array(z.string())]);

const ResolvedRulesView = z
  .object({
    runGroupId: Id,
    ruleSetId: Id,
    ruleSetVersion: z.int().describe('The published version underneath'),
    name: z.string().describe('Name of the rule set'),
    rulesHash: z.string().nullable().describe('Names exactly these rules'),
    venueRulesAreNewer: z
      .boolean()
      .describe('The venue has changed its rules since the group took them; PATCH with `takeVenueRules` takes them'),
    parameters: z
      .array(
        z.object({
          name: z.string().describe('Name of the parameter'),
          value: Value.describe('The value that judges this group'),
          unit: z.string().optional().describe('Its unit'),
          meaning: z.string().describe('What it limits'),
          source: z.string().optional().describe('Where the rule set has it from'),
          from: Layer,
          was: z.object({ value: Value, unit: z.string().optional() }).optional().describe('Value of the rule set'),
        }),
      )
      .describe('In the order of the rule set'),
    rules: z
      .array(
        z.object({
          from: Layer,
          changed: z
            .object({
              by: Layer,
              reason: z.string().describe('Why it is different here'),
              was: z.object({ effect: z.enum(EFFECTS), watch: z.boolean() }).describe('As the rule set has it'),
            })
            .optional()
            .describe('Set when effect or watch is different here'),
          rule: z.record(z.string(), z.unknown()).describe('The rule as it judges this group'),
        }),
      )
      .describe('In the order in which findings are listed'),
  })
  .meta({ id: 'ResolvedRules' });
type ResolvedRulesView = z.infer<typeof ResolvedRulesView>;

const resolvedRulesParams = z.strictObject({ runGroupId: Id });

const RESOLVED_EXAMPLE: ResolvedRulesView = {
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000c1',
  ruleSetVersion: 1,
  name: 'Club rules',
  rulesHash: 'f3a1c0de5b7742d18e0c7fd1b9a2c4e6f8a0b1c2d3e4f5061728394a5b6c7d8e',
  venueRulesAreNewer: false,
  parameters: [
    {
      name: 'padThicknessMinimum',
      value: 6,
      unit: 'mm',
      meaning: 'Thinnest brake pad that may start',
      from: 'run-group',
      was: { value: 5, unit: 'mm' },
    },
  ],
  rules: [
    {
      from: 'rule-set',
      changed: {
        by: 'venue',
        reason: 'No service road behind the barriers: a stranded car stops the day',
        was: { effect: 'inspect', watch: false },
      },
      rule: {
        id: 'brake-pad-thickness',
        title: 'Brake pad thickness',
        items: ['pad.thickness'],
        test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'padThicknessMinimum' } },
        effect: 'bar',
        message: 'The pad is too thin to last the event.',
        fix: 'Fit new pads on both sides of the axle and bed them in.',
        basis: { kind: 'common-practice' },
      },
    },
  ],
};
