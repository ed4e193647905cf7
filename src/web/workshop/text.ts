import { suffixOf, asUnit } from '../shared/units.ts';
import { defineText } from '../shared/text.ts';

export const text = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });

const { t } = text;

/** A unit as it stands behind a number: its sign, a word where it has none. */
export function unitText(unit: string): string {
  if (unit === 'month' || unit === 'year' || unit === 'day' || unit === 'turns') return t(`unit.${unit}`);
  const known = asUnit(unit);
  return known === undefined ? unit : suffixOf(known).trim();
}
