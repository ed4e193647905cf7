import type { FastifyInstance } from 'fastify';
import { promisify } from 'node:util';
import { brotliCompress, constants } from 'node:zlib';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { answerIn, areaName, CATALOGUE_LANGUAGES, itemTexts, WALK_ORDER } from '../../domain/catalogue/texts.ts';
import { CATALOGUE, CATALOGUE_VERSION } from '../../domain/catalogue/catalogue.ts';
import { AREAS, type Item, POSITION_KEYS } from '../../domain/catalogue/item.ts';
import { cautionIn } from '../../domain/cautions.ts';
import { ownSwitch } from '../../domain/rules/model/parameter-values.ts';
import { languagesOf } from '../../domain/rules/says/rule-words.ts';
import { placeOfRule, titleIn } from '../../domain/rules/says/says.ts';
import { viewSays } from '../../http/views/small-views.ts';
import { notFound } from '../../http/frame/problem.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { judgeEntry, sayLimitsOf } from '../../records/judging/judge-entry.ts';
import { getRules, type JudgingRules } from '../../records/judging/rules.ts';
import { CAR_FACT_ITEMS } from '../../domain/car/fact-table.ts';
import { DEFAULT_LANGUAGE } from '../../domain/language.ts';
import { dimensionOf, isUnit, UNITS } from '../../domain/quantity.ts';
import {
  ACCEPT_LANGUAGE,
  etagOf,
  isNotModified,
  LANGUAGE_DOCUMENTED,
  languageHeaders,
  languageOf,
} from '../../http/frame/headers.ts';
import { addRoute } from '../../http/frame/route.ts';
import { type CatalogueItemView, CatalogueView, viewDoesNotApply } from './catalogue-schemas.ts';
import type { FormView, QuestionsView } from './form-schema.ts';
import { findGroup, type GroupJudgedWith } from './store.ts';

/** What is asked and judged of every car of a run group, in one language. */
interface Questions {
  /** of the text */
  hash: string;
  /** `QuestionsView` as JSON */
  text: string;
  /** the sentence of each rule that has one, as JSON */
  says: ReadonlyMap<string, string>;
  /** the text as small as Brotli makes it: it is kept for a year and read over the network of a paddock */
  packed(): Promise<Buffer>;
}

// As long as the rules themselves are kept, which are few; by group and language, of which they have a few each.
const made = new WeakMap<JudgingRules, Map<string, Questions>>();
const KEPT = 20;
/** At its best quality, which is its default. */
const pack = promisify(brotliCompress);

/** Follows from the rules, the group's event and venue, and the catalogue alone. */
export function questionsOf(rules: JudgingRules, group: GroupJudgedWith, language: string): Questions {
  const { event, venue, parameters } = group;
  const { startsOn, endsOn } = event;
  const key = JSON.stringify([language, startsOn, endsOn, venue, parameters]);
  const all = made.get(rules) ?? new Map<string, Questions>();
  made.set(rules, all);
  const known = all.get(key);
  if (known !== undefined) return known;
  const { ruleSet } = rules.compiled;
  const says = sayOfAllCars(rules, group, language);
  const view: QuestionsView = {
    areas: WALK_ORDER.map((area) => ({ area, label: areaName(area, language) })),
    items: CATALOGUE.map((item) => viewItem(item, language)),
    rules: ruleSet.rules.map((rule) => {
      const { id: ruleId, effect, items, basis } = rule;
      const title = titleIn(ruleSet, rule, language);
      const said = says.get(ruleId);
      return { ruleId, title, effect, items: [...items], basis, ...(said === undefined ? {} : { says: said }) };
    }),
    workshopSheet: ownSwitch(ruleSet, parameters, 'workshopSheet'),
  };
  const texts = new Map([...says].map(([ruleId, said]) => [ruleId, JSON.stringify(said)]));
  const text = JSON.stringify(view);
  let packing: Promise<Buffer> | undefined;
  const packed = () =>
    (packing ??= pack(text, { params: { [constants.BROTLI_PARAM_MODE]: constants.BROTLI_MODE_TEXT } }));
  const questions = { hash: canonicalHash(view), text, says: texts, packed };
  const [oldest] = all.keys();
  if (all.size >= KEPT && oldest !== undefined) all.delete(oldest);
  all.set(key, questions);
  return questions;
}

/** The sentence of each rule about a car of which nothing is known, where it is the same at each of its positions. */
function sayOfAllCars(rules: JudgingRules, group: GroupJudgedWith, language: string) {
  const { event, venue, parameters, resolvedHash } = group;
  const nothing = { vehicle: { description: '' }, concessions: [], earlier: [], photos: {} };
  const judgedWith = { event, venue, parameters, resolvedHash, ...nothing };
  const input = { answers: new Map(), stage: 'declaration', now: new Date(0) } as const;
  const { findings } = judgeEntry(rules, judgedWith, input);
  const says = sayLimitsOf(rules, judgedWith, { ...input, language, findings });
  const ofRules = new Map<string, NonNullable<QuestionsView['rules'][number]['says']>>();
  for (const { ruleId, position } of findings) {
    const said = says.get(placeOfRule(ruleId, position));
    // Where positions differ the first stands for all, and forms say the others.
    if (said !== undefined && !ofRules.has(ruleId)) ofRules.set(ruleId, viewSays(said));
  }
  return ofRules;
}

function viewItem(item: Item, language: string): QuestionsView['items'][number] {
  const { key, area, askedAfter, answeredBy, detailOf, lowestOf, doesNotApply, cautions = [] } = item;
  const { label, help } = itemTexts(item, language);
  return {
    key,
    area,
    label,
    help,
    answer: answerIn(item, language),
    ...(askedAfter === undefined ? {} : { askedAfter: { item: askedAfter.item, answers: [...askedAfter.answers] } }),
    answeredBy,
    ...(detailOf === undefined ? {} : { detailOf }),
    ...(lowestOf === undefined ? {} : { lowestOf }),
    ...(doesNotApply === undefined ? {} : { doesNotApply: viewDoesNotApply(doesNotApply) }),
    cautions: cautions.map((id) => cautionIn(id, language)),
  };
}

/** Where the questions of a run group are read: at an address of exactly what is there. */
export function addressOf({ hash }: Questions, runGroupId: string): FormView['questions'] {
  return { address: `/v1/run-groups/${runGroupId}/questions/${hash}`, runGroupId, hash };
}

/**
 * The questions of a run group, if they are still those that the hash names, in whatever language; an entrant
 * reads those of the own group, a shop those of groups in which it has a car.
 *
 * @throws ProblemError `not-found`: also when rules, event, venue or catalogue have changed since
 */
export async function readQuestions(deps: Deps, actor: Actor, named: { runGroupId: string; hash: string }) {
  const group = await findGroup(deps.db.pool, named.runGroupId, actor);
  if (group === undefined) throw notFound('run group');
  const rules = await getRules(deps.db.prisma, group);
  for (const language of new Set([...CATALOGUE_LANGUAGES, ...languagesOf(rules.compiled.ruleSet)])) {
    const questions = questionsOf(rules, group, language);
    if (questions.hash === named.hash) return questions;
  }
  throw notFound('version of the questions; read the form again, which names them');
}

const IfNoneMatch = z.looseObject({
  ...ACCEPT_LANGUAGE,
  'if-none-match': z.string().optional().describe('ETag of the copy the caller has'),
});

/** The catalogue: everything an inspection can ask. It changes with the version of the server only. */
export async function catalogueRoutes(app: FastifyInstance): Promise<void> {
  const views = new Map(CATALOGUE_LANGUAGES.map((language) => [language, buildCatalogueView(language)]));
  const { view: example } = buildCatalogueView(DEFAULT_LANGUAGE);
  const documented = { ETag: 'Version of the catalogue and its texts', ...LANGUAGE_DOCUMENTED };
  addRoute(app, {
    tag: 'Catalogue',
    access: 'any',
    method: 'GET',
    path: '/catalogue',
    operationId: 'getCatalogue',
    summary: 'Read the catalogue',
    description:
      'All items with their answer types, units and positions, in the language of `Accept-Language`. Send `If-None-Match` to save the transfer.',
    headers: IfNoneMatch,
    success: {
      200: {
        description: 'The catalogue',
        schema: CatalogueView,
        headers: documented,
        example: { ...example, items: example.items.slice(0, 2) },
      },
      304: { description: 'The copy the caller has is current', headers: documented },
    },
    problems: [],
    handle: async ({ headers: asked }) => {
      const language = languageOf(asked);
      const { view, tag } = views.get(language) ?? buildCatalogueView(language);
      const etag = etagOf(tag);
      const headers = { etag, 'cache-control': 'private, no-cache', ...languageHeaders(language) };
      return isNotModified(asked['if-none-match'], etag)
        ? { status: 304, headers }
        : { status: 200, body: view, headers };
    },
  });
}

/** The catalogue as the API shows it, with the version tag of exactly this content (texts included). */
function buildCatalogueView(language: string): { view: CatalogueView; tag: string } {
  const view: CatalogueView = {
    version: CATALOGUE_VERSION,
    areas: [...AREAS],
    positionSchemes: Object.fromEntries(Object.entries(POSITION_KEYS).map(([scheme, keys]) => [scheme, [...keys]])),
    units: unitsByDimension(),
    items: [...CATALOGUE, ...CAR_FACT_ITEMS].map((item) => toItemView(item, language)),
    caution: cautionIn('general', language),
  };
  return { view, tag: `${CATALOGUE_VERSION}.${canonicalHash(view).slice(0, 12)}` };
}

/** One item, with its cautions as texts and its positions spelt out. */
function toItemView(whole: Item, language: string): CatalogueItemView {
  const { positions, cautions = [], appliesWhen, askedAfter, doesNotApply, answer: _, ...item } = whole;
  const { label, help } = itemTexts(whole, language);
  return {
    ...item,
    label,
    help,
    // The view's arrays are writable types; nobody writes them.
    answer: answerIn(whole, language) as CatalogueItemView['answer'],
    ...(positions === undefined ? {} : { positionScheme: positions, positions: [...POSITION_KEYS[positions]] }),
    ...(appliesWhen === undefined
      ? {}
      : { appliesWhen: structuredClone(appliesWhen) as CatalogueItemView['appliesWhen'] }),
    ...(askedAfter === undefined ? {} : { askedAfter: { item: askedAfter.item, answers: [...askedAfter.answers] } }),
    ...(doesNotApply === undefined ? {} : { doesNotApply: viewDoesNotApply(doesNotApply) }),
    cautions: cautions.map((id) => cautionIn(id, language)),
  };
}

function unitsByDimension(): Record<string, string[]> {
  const units: Record<string, string[]> = {};
  for (const unit of Object.keys(UNITS).filter(isUnit)) (units[dimensionOf(unit)] ??= []).push(unit);
  return units;
}
