import de from './text/reasons.de.json' with { type: 'json' };

/** How sentences of the gate begin, go on and end, as patterns, and the same in other languages; `$1` is what stands there. */
const REASONS: Readonly<Record<string, Readonly<Record<string, string>>>> = { de };
const patterns = new Map<string, readonly (readonly [shape: RegExp, said: string])[]>();

/**
 * The reason of a clearance, which is kept and signed in English, in another language. What a person wrote in it, a rule's title or
 * a note, stays as it is; so does everything in a language that we have no words in.
 */
export function reasonIn(reason: string, language: string): string {
  const known =
    patterns.get(language) ??
    Object.entries(REASONS[language] ?? {}).map(([shape, said]) => [new RegExp(shape, 'gu'), said] as const);
  patterns.set(language, known);
  return known.reduce((text, [shape, said]) => text.replaceAll(shape, said), reason);
}
