import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { type Actor, STAFF } from '../../domain/actor.ts';
import { cautionIn } from '../../domain/cautions.ts';
import { valueText } from '../../domain/rules/explain/explain-binder.ts';
import type { ExplainedParameter } from '../../domain/rules/explain/explain-expression.ts';
import { explainedIn } from '../../domain/rules/explain/explain-language.ts';
import { type ExplainedFinding, type ExplainedRule, explainRule } from '../../domain/rules/explain/explain.ts';
import { languagesOf } from '../../domain/rules/says/rule-words.ts';
import { placeOfRule, sayLimits } from '../../domain/rules/says/says.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { viewFindings } from '../../http/views/finding-view.ts';
import { findInspection, type StoredInspection } from '../../records/judging/inspections.ts';
import { findTold, isSame, type Kept, keptAtLine, keptDeclaration, replay } from '../../records/judging/replay.ts';
import { getRules, type JudgingRules } from '../../records/judging/rules.ts';
import { findNewestSignOff, type StoredCheck, type StoredSignOff } from '../../records/judging/at-line.ts';
import {
  EXPLANATION_EXAMPLE,
  explanationParams,
  ExplanationView,
  type ParameterView,
  type PositionView,
} from './explain-schemas.ts';

interface Explained {
  explained: ExplainedRule;
  isSame: boolean;
}

/**
 * Tells how a rule came to its findings in a stored inspection, and at the line where it was signed off. An entrant
 * is told of the own inspections only.
 *
 * @throws ProblemError `not-found`: no such inspection, or the rules that judged it have no such rule
 */
async function explainFinding(
  deps: Deps,
  actor: Actor,
  { inspectionId, ruleId, accepts = {} }: { inspectionId: string; ruleId: string; accepts?: Accepts },
): Promise<{ view: ExplanationView; language: string }> {
  const db = deps.db.prisma;
  const inspection = await findInspection(db, inspectionId);
  const hidden = actor.role === 'entrant' && inspection?.entryId !== actor.entryId;
  if (inspection === undefined || hidden) throw notFound('inspection');
  const rules = await getRules(db, inspection);
  const language = languageOf(accepts, languagesOf(rules.compiled.ruleSet));
  const told = await findTold(db, rules, inspection);
  const explanation = explainKept(rules, { ruleId, language }, keptDeclaration(inspection, told.findings));
  if (explanation === undefined) throw notFound('rule in the rules that judged this inspection');
  const signOff = await findNewestSignOff(db, inspectionId);
  const atLine = signOff && viewAtLine(rules, { ruleId, language }, inspection, signOff);
  const caution = cautionIn('general', language);
  return { view: { ...viewOf(inspection, explanation), ...(atLine !== undefined && { atLine }), caution }, language };
}

interface Accepts {
  'accept-language'?: string | undefined;
}

/** Which rule, in which language. */
interface Asked {
  ruleId: string;
  language: string;
}

function explainKept(rules: JudgingRules, { ruleId, language }: Asked, kept: Kept): Explained | undefined {
  const replayed = replay(rules, kept);
  const { input, sent, findings } = kept;
  const { compiled, origins } = rules;
  const explained = explainRule(ruleId, { compiled, origins, input, sent, findings, judged: replayed.judged });
  if (explained === undefined) return undefined;
  const own = findings.filter((finding) => finding.ruleId === ruleId);
  const places = new Set(own.map((finding) => placeOfRule(ruleId, finding.position)));
  const says = sayLimits(compiled, input, language, places);
  const words = explainedIn(explained, { ruleSet: compiled.ruleSet, language, says });
  return { explained: words, isSame: isSame(ruleId, kept, replayed) };
}

function viewOf(inspection: StoredInspection, explanation: Explained): Omit<ExplanationView, 'atLine' | 'caution'> {
  const { explained, isSame } = explanation;
  const { ruleId, title, text, expression, condition, items, effect, watch, basis } = explained;
  const { ruleSetVersion } = inspection;
  return {
    inspectionId: inspection.inspectionId,
    entryId: inspection.entryId,
    carNumber: inspection.carNumber,
    revision: inspection.revision,
    ruleSetId: inspection.ruleSetId,
    ruleSetVersion,
    rule: {
      ruleId,
      title,
      text,
      ...(expression !== undefined && { expression }),
      ...(condition !== undefined && { condition }),
      items,
      effect,
      watch,
      origin: {
        from: explained.origin.from,
        ...(explained.origin.from === 'rule-set' && { version: ruleSetVersion }),
        ...(explained.origin.changed !== undefined && { changed: explained.origin.changed }),
      },
      basis,
    },
    parameters: viewParameters(explained.parameters, ruleSetVersion),
    applies: explained.applies,
    ...(explained.applies ? {} : { reason: explained.reason }),
    positions: viewPositions(explained.positions),
    notAt: explained.notAt,
    judgedAgain: isSame ? 'same' : 'differs',
  };
}

/** Points the inspector marked at items the rule reads. */
function seenFor(explained: ExplainedRule, checks: readonly StoredCheck[]): StoredCheck[] {
  const keys = explained.items.map((item) => item.key);
  return checks.filter((check) => check.result !== undefined && keys.includes(check.item));
}

function viewAtLine(
  rules: JudgingRules,
  asked: Asked,
  inspection: StoredInspection,
  signOff: StoredSignOff,
): ExplanationView['atLine'] {
  const explanation = explainKept(rules, asked, keptAtLine(inspection, signOff));
  if (explanation === undefined) return undefined;
  const { explained, isSame } = explanation;
  return {
    signOffId: signOff.signOffId,
    decision: signOff.decision,
    signedBy: signOff.signedName,
    signedAt: signOff.signedAt.toISOString(),
    applies: explained.applies,
    ...(explained.applies ? {} : { reason: explained.reason }),
    positions: viewPositions(explained.positions),
    notAt: explained.notAt,
    seen: seenFor(explained, signOff.checks).map(({ item, position, result, note }) => ({
      item,
      ...(position !== undefined && { position }),
      result: result ?? 'not-ok',
      ...(note !== undefined && { note }),
    })),
    judgedAgain: isSame ? 'same' : 'differs',
  };
}

/** A copy that the response schema can hold: lists in values are readonly inside. */
const plain = (value: unknown): unknown => (Array.isArray(value) ? [...(value as readonly unknown[])] : value);

/** Parameters as callers read them; a value of the rule set itself says which version it is from. */
function viewParameters(parameters: readonly ExplainedParameter[], version: number): ParameterView[] {
  return parameters.map(({ name, value, unit, meaning, source, from, was }) => ({
    name,
    ...(value !== undefined && { value: plain(value), text: valueText(value, unit) }),
    ...(unit !== undefined && { unit }),
    meaning,
    ...(source !== undefined && { source }),
    origin: {
      from,
      version,
      ...(was !== undefined && { was: { ...was, value: plain(was.value), text: valueText(was.value, was.unit) } }),
    },
  }));
}

/** Positions as callers read them. */
function viewPositions(positions: readonly ExplainedFinding[]): PositionView[] {
  return positions.flatMap((one) =>
    viewFindings([one.finding]).map((finding) => ({
      ...(one.position !== undefined && { position: one.position }),
      inWords: one.inWords,
      finding,
      ...(one.condition !== undefined && { condition: one.condition }),
      inputs: one.inputs.map(({ value, ...input }) => ({
        ...input,
        ...(value !== undefined && { value: plain(value), valueText: valueText(value, input.unit) }),
      })),
      records: one.records.map((read) => ({ ...read, value: plain(read.value) })),
      facts: one.facts.map(({ restsOn, ...fact }) => ({
        ...fact,
        value: plain(fact.value),
        ...(restsOn !== undefined && { restsOn: [...restsOn] }),
      })),
      comparison: one.comparison,
      ...(one.certainty !== undefined && { certainty: one.certainty }),
      counts: one.finding.counts,
      countsBecause: one.countsBecause,
    })),
  );
}

/** Why a rule found what it found. */
export async function explanationRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/inspections/:inspectionId/findings/:ruleId',
    operationId: 'explainFinding',
    summary: 'Read how a rule came to its findings, in words and in numbers',
    description:
      'From the stored inspection and the rules that judged it. A rule that exists and gave no finding on this car is answered with `applies: false` and the reason.',
    tag: 'Declaration',
    access: [...STAFF, 'entrant'],
    params: explanationParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'The explanation, position by position',
        schema: ExplanationView,
        headers: LANGUAGE_DOCUMENTED,
        example: EXPLANATION_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params, actor, headers }) => {
      const { view, language } = await explainFinding(deps, actor, { ...params, accepts: headers });
      return { status: 200, body: view, headers: languageHeaders(language) };
    },
  });
}
