import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Actor, STAFF } from '../../domain/actor.ts';
import { alwaysIn } from '../../domain/line/points-to-check.ts';
import type { LimitForm } from '../../domain/rules/overlay/limit-uses.ts';
import { EFFECTS } from '../../domain/rules/model/finding.ts';
import type { Rule, RuleSet } from '../../domain/rules/model/rule-set.ts';
import { LAYERS, type Origins } from '../../domain/rules/overlay/overlay.ts';
import { messageIn } from '../../domain/rules/says/rule-words.ts';
import { inThread, URGENCY } from '../../http/body/in-thread.ts';
import { Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { getRules } from '../../records/judging/rules.ts';
import { limitFormsTask } from './limits.task.ts';
import { findGroupRules, findLastChanges, type GroupRules, type LastChange } from './overlay-store.ts';
import { findVersion } from './rule-set-store.ts';

type Limit = LimitsView['limits'][number];

/**
 * Every limit and effect of a run group with what a form needs: its value here and in the rule set, whose it is, why and
 * since when, what it may be, and which rules read it.
 *
 * @throws ProblemError `not-found`; `too-heavy`, `too-much-at-once`, `threads-busy`
 */
async function readLimits(deps: Deps, actor: Actor, runGroupId: string, language: string): Promise<LimitsView> {
  const db = deps.db.prisma;
  const group = await findGroupRules(db, runGroupId);
  if (group === undefined) throw notFound('run group');
  const { ruleSetId, ruleSetVersion } = group;
  const published = await findVersion(db, ruleSetId, ruleSetVersion);
  if (published === undefined) throw notFound('version of a rule set');
  const asked = { caller: actor.tokenId, urgency: URGENCY.preview };
  const forms = await inThread(deps.threads, limitFormsTask, { document: JSON.stringify(published.document) }, asked);
  const changes = await findLastChanges(db, runGroupId);
  const { compiled, origins } = await getRules(db, group);
  const titles = new Map(compiled.ruleSet.rules.map(({ id, title, texts }) => [id, texts?.[language]?.title ?? title]));
  const known: Known = { group, origins, changes, now: compiled.ruleSet, language, titles };
  return {
    ruleSetId,
    ruleSetVersion,
    name: compiled.ruleSet.name,
    limits: forms.map(([name, form]) => viewLimit(name, form, known)),
    effects: compiled.ruleSet.rules.map((rule) => viewEffect(rule, origins, titles)),
    alwaysLook: alwaysIn(compiled.ruleSet.alwaysLook ?? [], language).map(({ id, title, seconds }) => ({
      id,
      title,
      seconds,
    })),
  };
}

interface Known {
  group: GroupRules;
  origins: Origins;
  changes: ReadonlyMap<string, LastChange>;
  now: RuleSet;
  language: string;
  /** of the rules, in the language */
  titles: ReadonlyMap<string, string>;
}

function viewLimit(name: string, form: LimitForm, known: Known): Limit {
  const { kind, options, wholeNumber, plausible, usedBy } = form;
  const { meaning, source } = known.now.parameters[name] ?? { meaning: name };
  return {
    name,
    meaning: messageIn(meaning, known.language),
    kind,
    wholeNumber,
    ...given('plausible', plausible),
    ...given('options', options === undefined ? undefined : [...options]),
    ...given('source', source),
    usedBy: usedBy.map((use) => ({ ...use, title: known.titles.get(use.ruleId) ?? use.title })),
    ...valueOf(name, known),
  };
}

/** What stands there, whose it is, why and since when. */
function valueOf(name: string, { group, origins, changes, now }: Known) {
  const stands = now.parameters[name] ?? { value: '', unit: undefined };
  // Groups from before overlays are judged by their own values, which are not in the rules.
  const own = group.parameters[name];
  const override = own ?? group.taken?.parameters[name];
  const whose: Limit['from'] = own === undefined ? 'rule-set' : 'run-group';
  const { from, was } = origins.parameters[name] ?? { from: whose, was: stands };
  return {
    value: own === undefined ? stands.value : own.value,
    builtIn: was.value,
    from,
    ...given('unit', override?.unit ?? stands.unit),
    ...given('reason', override?.reason),
    ...given('changed', own === undefined ? undefined : changes.get(name)),
  };
}

const given = <K extends string, V>(name: K, value: V | undefined): { [P in K]?: V } =>
  (value === undefined ? {} : { [name]: value }) as { [P in K]?: V };

function viewEffect(rule: Rule, origins: Origins, titles: Known['titles']): LimitsView['effects'][number] {
  const { id, title, effect, watch, floor, safetyCritical } = rule;
  const origin = origins.rules[id];
  return {
    ruleId: id,
    title: titles.get(id) ?? title,
    effect,
    builtIn: origin?.changed?.was.effect ?? effect,
    watch: watch === true,
    from: origin?.changed?.by ?? origin?.from ?? 'rule-set',
    ...given('reason', origin?.changed?.reason),
    floor: floor === true,
    safetyCritical: safetyCritical === true,
  };
}

/** The limits of a run group as a form shows them. They are changed with the run group. */
export async function limitRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    tag: 'Rule sets',
    access: STAFF,
    method: 'GET',
    path: '/run-groups/:runGroupId/limits',
    operationId: 'getLimits',
    summary: 'Read the limits of a run group with what each may be and which rules read it',
    description:
      'Value here and in the rule set, whose it is, why and since when, unit, options and plausible range. A run group is ' +
      'changed by PATCH of it, after its preview; a venue by its overlay.',
    params: groupLimitsParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'Limits and effects',
        schema: LimitsView,
        headers: LANGUAGE_DOCUMENTED,
        example: LIMITS_EXAMPLE,
      },
    },
    problems: ['not-found', 'too-heavy', 'too-much-at-once', 'threads-busy'],
    handle: async ({ params, headers, actor }) => {
      const language = languageOf(headers);
      const body = await readLimits(deps, actor, params.runGroupId, language);
      return { status: 200, body, headers: languageHeaders(language) };
    },
  });
}

const Value = z.union([z.number(), z.string(), z.boolean(), z.array(z.string())]);
const Effect = z.enum(EFFECTS);
const Layer = z.enum(LAYERS);

const LimitView = z.object({
  name: z.string().describe('Name of the parameter'),
  meaning: z.string().describe('What it limits'),
  kind: z.enum(['number', 'text', 'date', 'yes-no', 'list']).describe('What it holds'),
  unit: z.string().optional().describe('Unit of its numbers'),
  value: Value.describe('What judges here now'),
  builtIn: Value.describe('What the rule set says'),
  from: Layer.describe('Whose value it is'),
  reason: z.string().optional().describe('Why it is different'),
  changed: z
    .object({ by: z.string().describe('Who changed it last for this group'), at: InstantOut })
    .optional()
    .describe('Absent: as the group was made'),
  source: z.string().optional().describe('Where the rule set has its value from'),
  options: z.array(z.string()).optional().describe('All that it may hold; absent: anything of its kind'),
  wholeNumber: z.boolean().describe('No fractions'),
  plausible: z
    .object({ from: z.number(), to: z.number(), basis: z.enum(['item', 'built-in']) })
    .optional()
    .describe('Outside of this a value is likely a slip; it is asked back, not refused'),
  usedBy: z
    .array(
      z.object({
        ruleId: z.string().describe('Id of the rule'),
        title: z.string().describe('What it judges'),
        effect: Effect.describe('What it does here when it is not met'),
      }),
    )
    .describe('The rules that read it'),
});

const EffectView = z.object({
  ruleId: z.string().describe('Id of the rule'),
  title: z.string().describe('What it judges'),
  effect: Effect.describe('What it does here when it is not met'),
  builtIn: Effect.describe('As the rule set has it'),
  watch: z.boolean().describe('It is counted here and judges nobody'),
  from: Layer.describe('Whose effect it is'),
  reason: z.string().optional().describe('Why it is different'),
  floor: z.boolean().describe('It may only be made stricter'),
  safetyCritical: z.boolean().describe('An exception to it needs two people'),
});

const LimitsView = z
  .object({
    ruleSetId: Id,
    ruleSetVersion: z.int().describe('The published version underneath'),
    name: z.string().describe('Name of the rule set'),
    limits: z.array(LimitView).describe('In the order of the rule set'),
    effects: z.array(EffectView).describe('In the order of the rule set'),
    alwaysLook: z
      .array(
        z.object({
          id: z.string().describe('Id of the point'),
          title: z.string().describe('What is looked at'),
          seconds: z.number().optional().describe('How long it takes'),
        }),
      )
      .describe('What can always be looked at; the limit `alwaysLookPoints` says what is'),
  })
  .meta({ id: 'Limits' });
type LimitsView = z.infer<typeof LimitsView>;

const LIMITS_EXAMPLE: LimitsView = {
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000c1',
  ruleSetVersion: 1,
  name: 'Club rules',
  limits: [
    {
      name: 'padThicknessMinimum',
      meaning: 'Thinnest brake pad that may start',
      kind: 'number',
      unit: 'mm',
      value: 6,
      builtIn: 5,
      from: 'run-group',
      reason: 'Two heavy braking zones',
      changed: { by: 'Office desk', at: '2026-05-02T09:20:00.000Z' },
      wholeNumber: false,
      plausible: { from: 1, to: 25, basis: 'item' },
      usedBy: [{ ruleId: 'brake-pad-thickness', title: 'Brake pad thickness', effect: 'bar' }],
    },
  ],
  effects: [
    {
      ruleId: 'brake-pad-thickness',
      title: 'Brake pad thickness',
      effect: 'bar',
      builtIn: 'bar',
      watch: false,
      from: 'rule-set',
      floor: false,
      safetyCritical: true,
    },
  ],
  alwaysLook: [{ id: 'brake-pedal', title: 'Brake pedal held hard for 10 seconds', seconds: 15 }],
};

const groupLimitsParams = z.strictObject({ runGroupId: Id });
