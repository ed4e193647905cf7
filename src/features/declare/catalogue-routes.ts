import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { CAR_FACT_ITEMS } from '../../domain/car/fact-table.ts';
import { CATALOGUE, CATALOGUE_VERSION } from '../../domain/catalogue/catalogue.ts';
import { AREAS, type Item, POSITION_KEYS } from '../../domain/catalogue/item.ts';
import { CAUTIONS } from '../../domain/cautions.ts';
import { dimensionOf, isUnit, UNITS } from '../../domain/quantity.ts';
import { etagOf, isNotModified } from '../../http/frame/etag.ts';
import { addRoute } from '../../http/frame/route.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { type CatalogueItemView, CatalogueView, viewDoesNotApply } from './catalogue-schemas.ts';

const IfNoneMatch = z.looseObject({
  'if-none-match': z.string().optional().describe('ETag of the copy the caller has'),
});

/** The catalogue: everything an inspection can ask. It changes with the version of the server only. */
export async function catalogueRoutes(app: FastifyInstance): Promise<void> {
  const { view, tag } = buildCatalogueView();
  const etag = etagOf(tag);
  const headers = { etag, 'cache-control': 'private, no-cache' };
  const documented = { ETag: 'Version of the catalogue and its texts' };
  addRoute(app, {
    tag: 'Catalogue',
    access: 'any',
    method: 'GET',
    path: '/catalogue',
    operationId: 'getCatalogue',
    summary: 'Read the catalogue',
    description: 'All items with their answer types, units and positions. Send `If-None-Match` to save the transfer.',
    headers: IfNoneMatch,
    success: {
      200: {
        description: 'The catalogue',
        schema: CatalogueView,
        headers: documented,
        example: { ...view, items: view.items.slice(0, 2) },
      },
      304: { description: 'The copy the caller has is current', headers: documented },
    },
    problems: [],
    handle: async ({ headers: { 'if-none-match': known } }) =>
      isNotModified(known, etag) ? { status: 304, headers } : { status: 200, body: view, headers },
  });
}

/** The catalogue as the API shows it, with the version tag of exactly this content (texts included). */
function buildCatalogueView(): { view: CatalogueView; tag: string } {
  const view: CatalogueView = {
    version: CATALOGUE_VERSION,
    areas: [...AREAS],
    positionSchemes: Object.fromEntries(Object.entries(POSITION_KEYS).map(([scheme, keys]) => [scheme, [...keys]])),
    units: unitsByDimension(),
    items: [...CATALOGUE, ...CAR_FACT_ITEMS].map(toItemView),
    caution: CAUTIONS.general.text,
  };
  return { view, tag: `${CATALOGUE_VERSION}.${canonicalHash(view).slice(0, 12)}` };
}

/** One item, with its cautions as texts and its positions spelt out. */
function toItemView({
  positions,
  cautions = [],
  answer,
  appliesWhen,
  askedAfter,
  doesNotApply,
  ...item
}: Item): CatalogueItemView {
  return {
    ...item,
    // The view's arrays are writable types; nobody writes them.
    answer: structuredClone(answer) as CatalogueItemView['answer'],
    ...(positions === undefined ? {} : { positionScheme: positions, positions: [...POSITION_KEYS[positions]] }),
    ...(appliesWhen === undefined
      ? {}
      : { appliesWhen: structuredClone(appliesWhen) as CatalogueItemView['appliesWhen'] }),
    ...(askedAfter === undefined ? {} : { askedAfter: { item: askedAfter.item, answers: [...askedAfter.answers] } }),
    ...(doesNotApply === undefined ? {} : { doesNotApply: viewDoesNotApply(doesNotApply) }),
    cautions: cautions.map((id) => CAUTIONS[id].text),
  };
}

function unitsByDimension(): Record<string, string[]> {
  const units: Record<string, string[]> = {};
  for (const unit of Object.keys(UNITS).filter(isUnit)) (units[dimensionOf(unit)] ??= []).push(unit);
  return units;
}
