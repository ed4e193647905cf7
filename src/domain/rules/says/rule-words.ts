import { CATALOGUE_LANGUAGES } from '../../catalogue/texts.ts';
import { DEFAULT_LANGUAGE } from '../../language.ts';
import type { Finding } from '../model/finding.ts';
import type { Rule, RuleSet, RuleTexts } from '../model/rule-set.ts';
import { messageIn } from './messages.ts';

const spoken = new WeakMap<RuleSet, readonly string[]>();
const byId = new WeakMap<RuleSet, ReadonlyMap<string, Rule>>();

/** The languages that the rules have texts in, their own first, and those of the catalogue. */
export function languagesOf(ruleSet: RuleSet): readonly string[] {
  const known = spoken.get(ruleSet);
  if (known !== undefined) return known;
  const others = ruleSet.rules.flatMap(({ texts }) => Object.keys(texts ?? {}));
  const all = [...new Set([ruleSet.language ?? DEFAULT_LANGUAGE, ...others, ...CATALOGUE_LANGUAGES])];
  spoken.set(ruleSet, all);
  return all;
}

function ruleOf(ruleSet: RuleSet, ruleId: string): Rule | undefined {
  const rules = byId.get(ruleSet) ?? new Map(ruleSet.rules.map((rule) => [rule.id, rule]));
  byId.set(ruleSet, rules);
  return rules.get(ruleId);
}

/** What the rule says is said in the language; what stands behind it, a fact that adds to it, as the engine says it. */
function textIn(text: string, own: string, said: string | undefined, language: string): string {
  if (text === '') return text;
  if (said === undefined || !text.startsWith(own)) return messageIn(text, language);
  return said + messageIn(text.slice(own.length), language);
}

const NONE: RuleTexts = {};

/**
 * Findings with their words in a language: title, message and fix of the rule, and what the engine says itself. What there is no
 * text for stays in the language of the rule set. What is kept is not changed by it.
 */
export function findingsIn(findings: readonly Finding[], ruleSet: RuleSet, language: string): readonly Finding[] {
  if (language === (ruleSet.language ?? DEFAULT_LANGUAGE)) return findings;
  return findings.map((finding) => {
    const rule = ruleOf(ruleSet, finding.ruleId);
    if (rule === undefined) return finding;
    const { title, message, fix } = rule.texts?.[language] ?? NONE;
    return {
      ...finding,
      title: finding.title === rule.title ? (title ?? finding.title) : finding.title,
      message: textIn(finding.message, rule.message, message, language),
      fix: textIn(finding.fix, rule.fix, fix, language),
    };
  });
}
