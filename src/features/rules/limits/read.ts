import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import type { LimitForm } from '../../../domain/rules/limits/limit-uses.ts';
import type { Rule, RuleSet } from '../../../domain/rules/model/rule-set.ts';
import type { Origins } from '../../../domain/rules/overlay/overlay.ts';
import { inThread, URGENCY } from '../../../http/body/in-thread.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { getRules } from '../../../records/judging/rules.ts';
import { findGroupRules, type GroupRules } from '../resolved-store.ts';
import { findVersion } from '../rule-set-store.ts';
import { limitFormsTask } from './limits.task.ts';
import type { LimitsView } from './schemas.ts';
import { findLastChanges, type LastChange } from './store.ts';

type Limit = LimitsView['limits'][number];

/**
 * Every limit and effect of a run group with what a form needs: its value here and in the rule set, whose it is, why and
 * since when, what it may be, and which rules read it.
 *
 * @throws ProblemError `not-found`; `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function readLimits(deps: Deps, actor: Actor, runGroupId: string): Promise<LimitsView> {
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
  const known: Known = { group, origins, changes, now: compiled.ruleSet };
  return {
    ruleSetId,
    ruleSetVersion,
    name: compiled.ruleSet.name,
    limits: forms.map(([name, form]) => viewLimit(name, form, known)),
    effects: compiled.ruleSet.rules.map((rule) => viewEffect(rule, origins)),
    alwaysLook: (compiled.ruleSet.alwaysLook ?? []).map(({ id, title, seconds }) => ({ id, title, seconds })),
  };
}

interface Known {
  group: GroupRules;
  origins: Origins;
  changes: ReadonlyMap<string, LastChange>;
  now: RuleSet;
}

function viewLimit(name: string, form: LimitForm, known: Known): Limit {
  const { kind, options, wholeNumber, plausible, usedBy } = form;
  const { meaning, source } = known.now.parameters[name] ?? { meaning: name };
  return {
    name,
    meaning,
    kind,
    wholeNumber,
    ...given('plausible', plausible),
    ...given('options', options === undefined ? undefined : [...options]),
    ...given('source', source),
    usedBy: [...usedBy],
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

function viewEffect(rule: Rule, origins: Origins): LimitsView['effects'][number] {
  const { id, title, effect, watch, floor, safetyCritical } = rule;
  const origin = origins.rules[id];
  return {
    ruleId: id,
    title,
    effect,
    builtIn: origin?.changed?.was.effect ?? effect,
    watch: watch === true,
    from: origin?.changed?.by ?? origin?.from ?? 'rule-set',
    ...given('reason', origin?.changed?.reason),
    floor: floor === true,
    safetyCritical: safetyCritical === true,
  };
}
