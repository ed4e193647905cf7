import { CATALOGUE, CATALOGUE_VERSION } from '../../domain/catalogue/catalogue.ts';
import { AREAS, type Item, POSITION_KEYS } from '../../domain/catalogue/item.ts';
import { CAUTIONS } from '../../domain/cautions.ts';
import { dimensionOf, isUnit, UNITS } from '../../domain/quantity.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import type { CatalogueItemView, CatalogueView } from './schemas.ts';

/** The catalogue as the API shows it, with the version tag of exactly this content (texts included). */
export function buildCatalogueView(): { view: CatalogueView; tag: string } {
  const view: CatalogueView = {
    version: CATALOGUE_VERSION,
    areas: [...AREAS],
    positionSchemes: Object.fromEntries(Object.entries(POSITION_KEYS).map(([scheme, keys]) => [scheme, [...keys]])),
    units: unitsByDimension(),
    items: CATALOGUE.map(toItemView),
    caution: CAUTIONS.general.text,
  };
  return { view, tag: `${CATALOGUE_VERSION}.${canonicalHash(view).slice(0, 12)}` };
}

/** One item, with its cautions as texts and its positions spelt out. */
export function toItemView({ positions, cautions = [], answer, appliesWhen, ...item }: Item): CatalogueItemView {
  return {
    ...item,
    // The view's arrays are writable types; nobody writes them.
    answer: structuredClone(answer) as CatalogueItemView['answer'],
    ...(positions === undefined ? {} : { positionScheme: positions, positions: [...POSITION_KEYS[positions]] }),
    ...(appliesWhen === undefined
      ? {}
      : { appliesWhen: structuredClone(appliesWhen) as CatalogueItemView['appliesWhen'] }),
    cautions: cautions.map((id) => CAUTIONS[id].text),
  };
}

function unitsByDimension(): Record<string, string[]> {
  const units: Record<string, string[]> = {};
  for (const unit of Object.keys(UNITS).filter(isUnit)) (units[dimensionOf(unit)] ??= []).push(unit);
  return units;
}
