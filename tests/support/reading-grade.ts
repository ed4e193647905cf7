/** Syllables of an English word: groups of vowels, without a silent e at the end. */
function syllablesOf(word: string): number {
  const letters = word.toLowerCase().replace(/[^a-z]/g, '');
  if (letters === '') return 1;
  const groups = letters.replace(/(?:[^laeiouy]es|ed|[^laeiouy]e)$/, '').match(/[aeiouy]+/g);
  return Math.max(1, groups?.length ?? 1);
}

/**
 * The Flesch-Kincaid grade level of an English text: 0.39 words per sentence and 11.8 syllables per word, less 15.59.
 *
 * @see Kincaid, Fishburne, Rogers and Chissom 1975, Research Branch Report 8-75, US Naval Technical Training
 */
export function readingGrade(text: string): number {
  const sentences = text.split(/[.!?:;]+(?:\s|$)/u).filter((part) => /\p{L}/u.test(part));
  const words = text.split(/\s+/u).filter((word) => /[\p{L}\d]/u.test(word));
  const syllables = words.reduce((sum, word) => sum + syllablesOf(word), 0);
  return 0.39 * (words.length / Math.max(1, sentences.length)) + 11.8 * (syllables / Math.max(1, words.length)) - 15.59;
}

/** Words that deny; two of them within one part of a sentence make a reader count on his fingers. */
const DENIALS = {
  en: /\b(?:no|not|never|nothing|nobody|none|without|cannot|n't|neither|nor)\b/giu,
  de: /\b(?:kein\w*|nicht\w*|nie|niemand|ohne|weder|noch nicht)\b/giu,
} as const;

/** Parts of a text that deny twice. */
export const doubleDenials = (text: string, language: keyof typeof DENIALS): string[] =>
  text.split(/[,;:.!?]/u).filter((part) => (part.match(DENIALS[language])?.length ?? 0) > 1);
