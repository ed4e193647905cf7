import { roundTo, type Unit } from '../../quantity.ts';

/** A value within a sentence: a number that its reader sees in units of his choice, a day, or words. */
export type SaysValue =
  | {
      value: number;
      unit: Unit;
      /** decimals that the limit is judged with; absent: as many as it has */
      decimals?: number | undefined;
      /** which side of it is inside: what is shown is rounded to that side */
      inside?: 'above' | 'below' | undefined;
      /** it is a difference: 5 °C are 9 °F */
      difference?: true | undefined;
    }
  | { day: string }
  | { text: string };

/** A sentence with places `{name}` and what stands in them; `{name.number}` leaves the unit out: "5 to 10 minutes". */
export interface Sentence {
  template: string;
  values: Readonly<Record<string, SaysValue>>;
}

/** How a number is written: its digits, and the unit with the space before it. */
export type ShowNumber = (value: Extract<SaysValue, { value: number }>) => readonly [number: string, unit: string];

/** How the values of a sentence are written for one reader. */
export interface Show {
  number: ShowNumber;
  /** a plain date: `30 May 2026` */
  day(day: string): string;
}

const MOST_DECIMALS = 3;
const PLACE = /\{(\w+)(\.number)?\}/g;

/** The names of the places of a template. */
export const placesOf = (template: string): string[] => [...template.matchAll(PLACE)].map(([, name = '']) => name);

/**
 * Rounds a limit to the side that is inside of it, so that nobody who keeps to what is shown is outside of what is judged.
 *
 * @param decimals at most so many are shown
 */
export function roundInside(value: number, inside: 'above' | 'below' | undefined, decimals = MOST_DECIMALS): number {
  const near = roundTo(value, decimals);
  const step = 10 ** -decimals;
  if (inside === 'above' && near < roundTo(value, 12)) return roundTo(near + step, decimals);
  if (inside === 'below' && near > roundTo(value, 12)) return roundTo(near - step, decimals);
  return near;
}

/** By language: making a format takes longer than all the rest of a sentence. */
const numbers = new Map<string, Intl.NumberFormat>();

function kept<Format>(formats: Map<string, Format>, language: string, make: (locale: string) => Format): Format {
  const format = formats.get(language) ?? make(language === 'en' ? 'en-GB' : language);
  formats.set(language, format);
  return format;
}

/** The sentence as its reader sees it. */
export function fillSentence({ template, values }: Sentence, show: Show): string {
  const filled = template.replace(PLACE, (whole, name: string, isBare: string | undefined) => {
    const value = Object.hasOwn(values, name) ? values[name] : undefined;
    if (value === undefined) return whole;
    if ('text' in value) return value.text;
    if ('day' in value) return show.day(value.day);
    const [number, unit] = show.number(value);
    return isBare === undefined ? number + unit : number;
  });
  return filled.charAt(0).toUpperCase() + filled.slice(1);
}

/** Words that stand for units, by language: one, more. */
export type UnitWords = Readonly<Record<string, readonly [one: string, more: string]>>;

const MONTHS = 12;
/** Up to so many months people count in months. */
const MOST_MONTHS = 18;

/** Ten years, not 120 months. */
function inYears(limit: Extract<SaysValue, { value: number }>): Extract<SaysValue, { value: number }> {
  const { value, unit } = limit;
  if (unit !== 'month' || value <= MOST_MONTHS || value % MONTHS !== 0) return limit;
  return { ...limit, value: value / MONTHS, unit: 'year' };
}

const SIGNS: Readonly<Partial<Record<Unit, string>>> = { '1': '', deg: '°', '1/32in': '/32 in' };

/** A number in the unit that the rule states it in: `4 mm`, in German `1,6 mm`; months and turns are words. */
export function showInOwnUnit(language: string, words: UnitWords): ShowNumber {
  return (limit) => {
    const { value, unit, decimals, inside } = inYears(limit);
    const shown = roundInside(value, inside, decimals);
    const number = kept(
      numbers,
      language,
      (locale) => new Intl.NumberFormat(locale, { maximumFractionDigits: 8, useGrouping: false }),
    ).format(shown);
    const word = words[unit];
    return [number, word === undefined ? (SIGNS[unit] ?? ` ${unit}`) : ` ${word[shown === 1 ? 0 : 1]}`];
  };
}
