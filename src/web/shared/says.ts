import { fillSentence, roundInside, type SaysValue, type Show } from '../../domain/rules/says/sentence.ts';
import type { Says as SaysOfApi } from '../api/operations.ts';
import { currentLanguage } from './text.ts';
import { locale } from './times.ts';
import { convertShown, decimalsOf, showNumber, shownUnit, suffixOf } from './units.ts';

/** A limit as one sentence, as the API says it. */
export type Says = SaysOfApi;

/** A number of a limit in the unit of this device, never rounded to the side that is outside. */
const number: Show['number'] = ({ value, unit, decimals, inside, difference }) => {
  const kept = roundInside(value, inside, decimals);
  const to = shownUnit(unit, kept);
  const of = { decimals: Math.max(decimals ?? 0, decimalsOf(kept)), difference: difference === true };
  return [showNumber(convertShown(kept, unit, to, of), currentLanguage()), suffixOf(to)];
};

const day = (date: string): string =>
  new Intl.DateTimeFormat(locale(), { dateStyle: 'long', timeZone: 'UTC' }).format(new Date(`${date}T00:00:00Z`));

const SHOW: Show = { number, day };

/** The sentence in the language of the page and the units of this device. */
export function saysText({ text, template, values }: Says): string {
  if (template === undefined || values === undefined) return text;
  // the API names the same units as the domain
  return fillSentence({ template, values: values as Readonly<Record<string, SaysValue>> }, SHOW);
}
