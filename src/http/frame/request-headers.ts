import { z } from 'zod';
import { CATALOGUE_LANGUAGES } from '../../domain/catalogue/texts.ts';
import { pickLanguage } from '../../domain/language.ts';
import { ProblemError } from './problem.ts';

/** A strong entity tag (RFC 9110 §8.8.3) from a row version, or from several where a view is made of several rows. */
export function etagOf(...versions: readonly (number | bigint | string)[]): string {
  return `"${versions.join('.')}"`;
}

/** Splits an `If-Match` or `If-None-Match` list; commas inside quotes belong to the tag. */
function tagsIn(header: string): string[] {
  return header.match(/\*|(?:W\/)?"[^"]*"/g) ?? [];
}

/**
 * Requires that the caller's `If-Match` names the current version (strong comparison, `*` matches anything).
 *
 * @throws ProblemError `precondition-required` (428) when it is missing, `precondition-failed` (412) with the current
 *   `ETag` when it is stale. Call it after authorisation: a 412 tells that the object exists.
 */
export function assertIfMatch(header: string | undefined, current: string): void {
  if (header === undefined) {
    throw new ProblemError(
      'precondition-required',
      'Send the ETag of the version you changed as If-Match.',
      {},
      { etag: current },
    );
  }
  const tags = tagsIn(header);
  if (tags.includes('*') || tags.includes(current)) return;
  throw stale(current);
}

/** The 412 answer with the version that is current now. */
export function stale(current: string): ProblemError {
  return new ProblemError('precondition-failed', `The current version is ${current}.`, {}, { etag: current });
}

/** Whether a cached copy is still good (`If-None-Match`, weak comparison as RFC 9110 §13.1.2 asks). */
export function isNotModified(header: string | undefined, current: string): boolean {
  if (header === undefined) return false;
  return tagsIn(header).some((tag) => tag === '*' || tag.replace(/^W\//, '') === current);
}

/** Whether a coding is named in `Accept-Encoding` and not ruled out (RFC 9110, section 12.5.3). */
export function takesCoding(header: string | undefined, coding: 'br' | 'gzip'): boolean {
  const named = (header ?? '').split(',').find((one) => one.split(';', 1)[0]?.trim().toLowerCase() === coding);
  return named !== undefined && !/;\s*q=0(\.0*)?\s*$/i.test(named);
}

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
