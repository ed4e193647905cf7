import { z } from 'zod';

/** A language as texts name it: the first part of a language tag, `en` or `de`. */
export const LanguageTag = z.string().regex(/^[a-z]{2,3}$/, 'two or three lower-case letters, such as de');

/** What texts are in that do not say it. */
export const DEFAULT_LANGUAGE = 'en';

/**
 * The language to answer in.
 *
 * @param wanted what was asked for by name; it wins
 * @param accepted an `Accept-Language` header, RFC 9110 section 12.5.4
 * @param spoken what there are texts in; the first is the fall-back
 */
export function pickLanguage(
  wanted: string | undefined,
  accepted: string | undefined,
  spoken: readonly string[],
): string {
  const ranges = (accepted ?? '').split(',').flatMap((part) => {
    const [tag = '', ...rest] = part.trim().toLowerCase().split(';');
    const quality = Number(/q=([0-9.]+)/.exec(rest.join(';'))?.[1] ?? '1');
    return quality > 0 ? [{ tag, quality }] : [];
  });
  const tags = [wanted ?? '', ...ranges.toSorted((a, b) => b.quality - a.quality).map(({ tag }) => tag)];
  const known = tags.map((tag) => primaryOf(tag)).find((tag) => spoken.includes(tag));
  return known ?? spoken[0] ?? DEFAULT_LANGUAGE;
}

const primaryOf = (tag: string): string => tag.toLowerCase().split('-')[0] ?? '';
