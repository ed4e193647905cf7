import { findItem } from '../../catalogue/catalogue.ts';
import { itemTexts, positionName } from '../../catalogue/texts.ts';
import { DEFAULT_LANGUAGE } from '../../language.ts';
import type { Finding } from '../model/finding.ts';
import type { RuleSet } from '../model/rule-set.ts';
import { findingsIn, messageIn } from '../says/rule-words.ts';
import { placeOfRule, type Says } from '../says/says.ts';
import { readingText } from './explain-binder.ts';
import type { ExplainedFinding, ExplainedRule } from './explain.ts';

interface Wanted {
  ruleSet: RuleSet;
  language: string;
  /** the limits as sentences in the language, by rule and position */
  says: ReadonlyMap<string, Says>;
}

/**
 * An explanation in another language than English, in which it was made: the rule, its limit and its findings in the words that
 * forms have, what the engine says by its messages. Made anew and not translated: the few sentences for the driver.
 */
export function explainedIn(explained: ExplainedRule, wanted: Wanted): ExplainedRule {
  const { ruleSet, language, says } = wanted;
  if (language === DEFAULT_LANGUAGE) return explained;
  const rule = ruleSet.rules.find(({ id }) => id === explained.ruleId);
  const title = rule?.texts?.[language]?.title ?? explained.title;
  const limit = says.get(placeOfRule(explained.ruleId, explained.positions[0]?.position))?.text;
  return {
    ...explained,
    title,
    text: limit === undefined ? `${title}.` : `${title}: ${limit}`,
    items: explained.items.map(({ key, label }) => ({ key, label: labelIn(key, label, language) })),
    parameters: explained.parameters.map((one) => ({ ...one, meaning: messageIn(one.meaning, language) })),
    reason: explained.reason === '' ? '' : messageIn(explained.reason, language),
    notAt: explained.notAt.map(({ position, reason }) => ({ position, reason: messageIn(reason, language) })),
    positions: explained.positions.map((one) => positionIn(one, title, wanted)),
  };
}

function labelIn(key: string, label: string, language: string): string {
  const item = findItem(key);
  return item === undefined ? label : itemTexts(item, language).label;
}

function positionIn(one: ExplainedFinding, title: string, { ruleSet, language, says }: Wanted): ExplainedFinding {
  const [finding = one.finding] = findingsIn([one.finding], ruleSet, language);
  const limit = says.get(placeOfRule(finding.ruleId, finding.position))?.text;
  return {
    ...one,
    finding,
    inWords: wordsOf(finding, { title, limit, language }),
    comparison: { ...one.comparison, text: comparisonIn(one, finding, language) },
    countsBecause: countsIn(one.countsBecause, language),
    inputs: one.inputs.map((input) => ({
      ...input,
      label: labelIn(input.item, input.label, language),
      ...(input.note !== undefined && { note: messageIn(input.note, language) }),
    })),
    facts: one.facts.map(({ restsOn, ...fact }) => ({
      ...fact,
      meaning: messageIn(fact.meaning, language),
      ...(restsOn !== undefined && { restsOn: restsOn.map((one) => messageIn(one, language)) }),
    })),
  };
}

const MEANS = {
  bar: 'The car may not go on track like this.',
  inspect: 'The line will look at it.',
  advise: 'This is advice and keeps no car off the track.',
  no: 'That is as it must be.',
} as const;

/** What was asked and given, what that means, what to do. */
function wordsOf(
  finding: Finding,
  { title, limit, language }: { title: string; limit: string | undefined; language: string },
): string {
  const { position, measured, message, fix, counts } = finding;
  const at = position === undefined ? '' : `, ${positionName(position, language)}`;
  const isMeasured = finding.source === 'measured';
  const reading = measured === undefined ? undefined : readingText(measured);
  const given =
    reading === undefined ? '' : messageIn(isMeasured ? `Measured: ${reading}.` : `Declared: ${reading}.`, language);
  const asked = limit === undefined ? '' : messageIn(`Asked for: ${limit}`, language);
  const parts = [`${title}${at}:`, given, asked, message, messageIn(MEANS[counts], language), fix];
  return parts
    .filter((part) => part !== '')
    .map(ended)
    .join(' ');
}

const ended = (text: string): string => (/[.!?:]$/u.test(text.trim()) ? text.trim() : `${text.trim()}.`);

function comparisonIn({ comparison }: ExplainedFinding, { message }: Finding, language: string): string {
  if (comparison.holds === null) return messageIn(`There is nothing to judge: ${message}`, language);
  return messageIn(comparison.text, language);
}

const UNKNOWN = 'What is not known counts like not met. ';

function countsIn(text: string, language: string): string {
  if (!text.startsWith(UNKNOWN)) return messageIn(text, language);
  return `${messageIn(UNKNOWN.trim(), language)} ${messageIn(text.slice(UNKNOWN.length), language)}`;
}
