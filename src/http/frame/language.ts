import { z } from 'zod';
import { CATALOGUE_LANGUAGES } from '../../domain/catalogue/texts.ts';
import { pickLanguage } from '../../domain/language.ts';

/** The language that an answer is wanted in; see `decisions.md` why a header and no parameter. */
export const ACCEPT_LANGUAGE = {
  'accept-language': z
    .string()
    .optional()
    .describe('Languages of the texts, as in RFC 9110; absent or not spoken: the language of the rules'),
};
export const AcceptLanguage = z.looseObject(ACCEPT_LANGUAGE);

/**
 * The language to answer a request in.
 *
 * @param spoken languages beside those of the catalogue: of the texts of rules
 */
export function languageOf(
  headers: { 'accept-language'?: string | undefined },
  spoken: readonly string[] = [],
): string {
  const all = [...new Set([...CATALOGUE_LANGUAGES, ...spoken])];
  return pickLanguage(undefined, headers['accept-language'], all);
}

/** What an answer says of its language. */
export const languageHeaders = (language: string): Record<string, string> => ({
  'content-language': language,
  vary: 'Accept-Language',
});

/** The same for the document of the API. */
export const LANGUAGE_DOCUMENTED = { 'Content-Language': 'Language of the texts' };
