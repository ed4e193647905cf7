import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { CAR_FACT_ITEMS } from '../../domain/car/fact-table.ts';
import { CATALOGUE, CATALOGUE_VERSION } from '../../domain/catalogue/catalogue.ts';
import { AREAS, type Item, POSITION_KEYS } from '../../domain/catalogue/item.ts';
import { answerIn, CATALOGUE_LANGUAGES, itemTexts } from '../../domain/catalogue/texts.ts';
import { cautionIn } from '../../domain/cautions.ts';
import { DEFAULT_LANGUAGE } from '../../domain/language.ts';
import { dimensionOf, isUnit, UNITS } from '../../domain/quantity.ts';
import { etagOf, isNotModified } from '../../http/frame/etag.ts';
import { ACCEPT_LANGUAGE, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/language.ts';
import { addRoute } from '../../http/frame/route.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { type CatalogueItemView, CatalogueView, viewDoesNotApply } from './catalogue-schemas.ts';

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
