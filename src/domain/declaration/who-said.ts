import type { AnswerValue } from './read-answer.ts';
import { placeOfName } from './no-answer.ts';

/**
 * Which signature stands behind an answer, by its place: `oil.grade`, `pad.thickness@FL.in`, `pad.thickness@front` where
 * the lowest was given. What is not named was said by whoever declares.
 */
export type Said = Readonly<Record<string, string>>;

type Answers = ReadonlyMap<string, AnswerValue>;

/** The answers of each place as one text: values, what they rest on, and that there is none. */
function byPlace(answers: Answers): Map<string, string> {
  const parts = new Map<string, [string, AnswerValue][]>();
  for (const [name, value] of answers) {
    const place = placeOfName(name).place.split('#')[0] ?? name;
    parts.set(place, [...(parts.get(place) ?? []), [name, value]]);
  }
  const inOrder = (all: [string, AnswerValue][]) => JSON.stringify(all.toSorted(([a], [b]) => (a < b ? -1 : 1)));
  return new Map([...parts].map(([place, all]) => [place, inOrder(all)]));
}

/** The places that have another answer than before, or one for the first time; what was taken away is none of them. */
export function placesChanged(before: Answers, after: Answers): string[] {
  const was = byPlace(before);
  return [...byPlace(after)].filter(([place, said]) => was.get(place) !== said).map(([place]) => place);
}

/**
 * Who said what, of answers that follow on others: a signature stands for an answer as it was signed, and ends with the
 * first change of it.
 *
 * @param said of the answers before
 */
export function stillSaid(said: Said, before: Answers, after: Answers): Said {
  if (Object.keys(said).length === 0) return {};
  const [was, is] = [byPlace(before), byPlace(after)];
  return Object.fromEntries(
    Object.entries(said).filter(([place]) => is.get(place) !== undefined && is.get(place) === was.get(place)),
  );
}
