import { CATALOGUE } from '../../catalogue/catalogue.ts';
import type { Item } from '../../catalogue/item.ts';
import { CATALOGUE_LANGUAGES, itemTexts, positionName } from '../../catalogue/texts.ts';
import { DEFAULT_LANGUAGE } from '../../language.ts';
import type { Finding } from '../model/finding.ts';
import type { Rule, RuleSet, RuleTexts } from '../model/rule-set.ts';
import deCautions from './text/cautions.de.json' with { type: 'json' };
import de from './text/messages.de.json' with { type: 'json' };
import deLimits from './text/limits.de.json' with { type: 'json' };
import deSymptoms from './text/symptoms.de.json' with { type: 'json' };

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

/**
 * What the engine says in English, with places `{answer}`, `{position}` and `{text}`, and the same in other languages. The
 * English text is what is known of a message: findings are kept as they were written, for years.
 */
const MESSAGES: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  de: { ...de, ...deSymptoms, ...deCautions, ...deLimits },
};

interface Pattern {
  shape: RegExp;
  names: readonly string[];
  said: string;
}

const SHAPES: Readonly<Record<string, string>> = { answer: '"[^"]+"(?:, [^;:]+?)?(?: at \\S+?)?', position: '\\S+' };

const escaped = (text: string): string => text.replaceAll(/[.*+?^${}()|[\]\\]/g, String.raw`\$&`);

function patternOf(english: string, said: string): Pattern {
  const names: string[] = [];
  const parts = english.split(/\{(\w+)\}/);
  const source = parts.map((part, index) => {
    if (index % 2 === 0) return escaped(part);
    names.push(part);
    return `(${SHAPES[part] ?? '.+?'})`;
  });
  return { shape: new RegExp(`^${source.join('')}$`, 'u'), names, said };
}

const patterns = new Map<string, readonly Pattern[]>();

function patternsOf(language: string): readonly Pattern[] {
  const made =
    patterns.get(language) ??
    Object.entries(MESSAGES[language] ?? {})
      .filter(([english]) => english.includes('{'))
      .map(([english, said]) => patternOf(english, said));
  patterns.set(language, made);
  return made;
}

const BY_LABEL: ReadonlyMap<string, Item> = new Map(CATALOGUE.map((item) => [item.label, item]));

/** `"Brake pad", Level at FL.in` in another language; the name as it is where the catalogue does not know it (any more). */
function answerIn(name: string, language: string): string {
  const [, label = '', part, position] = /^"([^"]+)"(?:, (.+?))?(?: at (\S+))?$/u.exec(name) ?? [];
  const item = BY_LABEL.get(label);
  if (item === undefined) return name;
  const words = itemTexts(item, language);
  const { answer } = item;
  const field = answer.kind === 'fields' && Object.entries(answer.fields).find(([, one]) => one.label === part)?.[0];
  const said = [`„${words.label}“`, field ? (words.fields?.[field] ?? part) : part].filter(Boolean).join(', ');
  return position === undefined ? said : `${said}, ${positionName(position, language)}`;
}

function valueIn(name: string, text: string, language: string): string {
  if (name === 'answer') return answerIn(text, language);
  return name === 'position' ? positionName(text, language) : text;
}

function oneIn(text: string, language: string): string | undefined {
  const messages = MESSAGES[language] ?? {};
  if (Object.hasOwn(messages, text)) return messages[text];
  for (const { shape, names, said } of patternsOf(language)) {
    const match = shape.exec(text);
    if (match === null) continue;
    const values = new Map(names.map((name, index) => [name, valueIn(name, match[index + 1] ?? '', language)]));
    return said.replaceAll(/\{(\w+)\}/g, (whole, name: string) => values.get(name) ?? whole);
  }
  return undefined;
}

/**
 * What the engine said, in another language; the parts of a message are parted by semicolons. A text that we do not know
 * stays as it is: it may be the organizer's own.
 */
export function messageIn(text: string, language: string): string {
  const whole = oneIn(text, language);
  if (whole !== undefined || MESSAGES[language] === undefined) return whole ?? text;
  return text
    .split('; ')
    .map((part) => oneIn(part, language) ?? part)
    .join('; ');
}
