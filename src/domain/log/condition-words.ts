import de from './text/conditions.de.json' with { type: 'json' };
import en from './text/conditions.en.json' with { type: 'json' };

type Words = typeof en;

/** What the rules ask for by themselves, in the languages it has; conditions are kept in English, for as long as they are read. */
const WORDS: Readonly<Record<string, Words>> = { en, de };

export const TORQUE_RECHECK_TEXT = en.torque;

const SENTENCES = ['torque', 'daily', 'day'] as const;
type Point = Exclude<keyof Words, (typeof SENTENCES)[number]>;
const POINTS = Object.keys(en).filter((name): name is Point => !SENTENCES.some((one) => one === name));

const isPoint = (name: string): name is Point => POINTS.some((one) => one === name);

const PARTED = '; ';
const DAILY = new RegExp(
  `^${en.daily.replace('{day}', String.raw`(\d{4}-\d\d-\d\d)`).replace('{points}', '(.+)')}$`,
  'u',
);

/**
 * The condition of one day: what is shown to the line again.
 *
 * @param day plain date
 * @param points by the names that rule sets use; another name stands as it is, in the words of the organizer
 */
export function dailyRecheckText(day: string, points: readonly string[]): string {
  const named = points.map((point) => (isPoint(point) ? en[point] : point)).join(PARTED);
  return en.daily.replace('{day}', day).replace('{points}', named);
}

/** A condition in a language. What somebody wrote himself stays as it is. */
export function conditionIn(text: string, language: string): string {
  const words = WORDS[language];
  if (words === undefined || words === en) return text;
  if (text === en.torque) return words.torque;
  const [, day, named] = DAILY.exec(text) ?? [];
  if (day === undefined || named === undefined) return text;
  const points = named.split(PARTED).map((said) => {
    const point = POINTS.find((one) => en[one] === said);
    return point === undefined ? said : words[point];
  });
  return words.daily.replace('{day}', dayIn(day, words)).replace('{points}', points.join(PARTED));
}

/** A day of this event: people know the year. */
function dayIn(day: string, words: Words): string {
  const [year = '', month, date] = day.split('-');
  return words.day
    .replace('{d}', String(Number(date)))
    .replace('{m}', String(Number(month)))
    .replace('{y}', year);
}
