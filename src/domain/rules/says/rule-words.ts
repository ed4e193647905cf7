import { CATALOGUE_LANGUAGES } from '../../catalogue/texts.ts';
import { DEFAULT_LANGUAGE } from '../../language.ts';
import type { RuleSet } from '../model/rule-set.ts';

const spoken = new WeakMap<RuleSet, readonly string[]>();

/** The languages that the rules have texts in, their own first, and those of the catalogue. */
export function languagesOf(ruleSet: RuleSet): readonly string[] {
  const known = spoken.get(ruleSet);
  if (known !== undefined) return known;
  const others = ruleSet.rules.flatMap(({ texts }) => Object.keys(texts ?? {}));
  const all = [...new Set([ruleSet.language ?? DEFAULT_LANGUAGE, ...others, ...CATALOGUE_LANGUAGES])];
  spoken.set(ruleSet, all);
  return all;
}
