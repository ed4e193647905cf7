import { dateOf } from '../../calendar.ts';
import { findItem } from '../../catalogue/catalogue.ts';
import { itemTexts, optionName } from '../../catalogue/texts.ts';
import { DEFAULT_LANGUAGE } from '../../language.ts';
import { compileCel } from '../cel/generate.ts';
import type { CelType, CelValue } from '../cel/types.ts';
import type { CompiledRuleSet } from '../compile/compile-rule-set.ts';
import { bindRule, runOf } from '../explain/explain-binder.ts';
import { bindPart } from '../kinds/expression.ts';
import type { Binder } from '../kinds/answer.ts';
import type { JudgeInput, Run } from '../judge/run.ts';
import { type CompiledPart, noUses, type RuleRef, ruleScope } from '../model/rule-scope.ts';
import type { Rule, RuleSet, SaysExpression } from '../model/rule-set.ts';
import { kindSays } from './kind-values.ts';
import {
  fillSentence,
  placesOf,
  type SaysValue,
  type Sentence,
  type Show,
  showInOwnUnit,
  type UnitWords,
} from './sentence.ts';
import de from './text/de.json' with { type: 'json' };
import en from './text/en.json' with { type: 'json' };

/** The sentences of the kinds of tests, by language. */
type KindTexts = Readonly<Record<string, string>>;
export const KIND_TEXTS: Readonly<Record<string, KindTexts>> = { en, de };

/** The limit of a rule as a person reads it before he answers. */
export interface Says extends Sentence {
  /** the sentence, its numbers in the units that the rule is judged in */
  text: string;
  /** a value is not known: it says what to do first */
  isOpen: boolean;
}

interface CompiledValue extends CompiledPart {
  type: CelType;
  inside: 'above' | 'below' | undefined;
}

const compiledValues = new WeakMap<CompiledRuleSet, Map<string, CompiledValue | undefined>>();

function sourceOf(expression: SaysExpression): { source: string; inside: 'above' | 'below' | undefined } {
  if (typeof expression === 'string') return { source: expression, inside: undefined };
  return 'atLeast' in expression
    ? { source: expression.atLeast, inside: 'above' }
    : { source: expression.atMost, inside: 'below' };
}

function compileValue(
  compiled: CompiledRuleSet,
  expression: SaysExpression,
  each: Binder['each'],
): CompiledValue | undefined {
  const kept = compiledValues.get(compiled) ?? new Map<string, CompiledValue | undefined>();
  compiledValues.set(compiled, kept);
  const { source, inside } = sourceOf(expression);
  const key = `${each ?? ''}|${inside ?? ''}|${source}`;
  if (!kept.has(key)) {
    const made = compileCel<RuleRef>(source, ruleScope(compiled.ruleSet, each, noUses()), 'any');
    // one that does not compile is not known: the check refuses it, and the sentence says what to do without
    const { checked, ...part } = made.ok ? made.expression : { checked: undefined };
    kept.set(key, checked === undefined ? undefined : { ...(part as CompiledPart), type: checked.type, inside });
  }
  return kept.get(key);
}

/** Words of a list of options: those of the items that the rule lists. */
function wordOf(rule: Rule, option: string, language: string): string {
  for (const key of rule.items) {
    const item = findItem(key);
    const name = item && optionName(item, undefined, option, language);
    if (name !== undefined && name !== option) return name;
  }
  return option;
}

function shownValue(
  { type, inside }: CompiledValue,
  value: CelValue | undefined,
  words: { rule: Rule; language: string; join(words: readonly string[]): string },
): SaysValue | undefined {
  if (value === undefined) return undefined;
  if (typeof value === 'number') {
    const { kind } = type;
    if (kind === 'quantity') return { value, unit: type.unit, decimals: type.decimals, inside };
    return { value, unit: '1', ...(kind === 'double' && { decimals: type.decimals }), inside };
  }
  if (type.kind === 'date' && typeof value === 'string') return { day: value };
  const list = (Array.isArray(value) ? value : [value]).map((one) => wordOf(words.rule, String(one), words.language));
  return { text: words.join(list) };
}

const unitWordsOf = (texts: KindTexts): UnitWords =>
  Object.fromEntries(
    Object.entries(texts)
      .filter(([key]) => key.startsWith('unit.'))
      .map(([key, words]) => {
        const [one = '', more = ''] = words.split('|');
        return [key.slice('unit.'.length), [one, more]];
      }),
  );

/** A sentence of a rule in a language, and what is said where a value of it is not known. */
function templatesOf(ruleSet: RuleSet, rule: Rule, language: string): { text?: string; without?: string } {
  const own = ruleSet.language ?? DEFAULT_LANGUAGE;
  const said = language === own ? undefined : rule.texts?.[language];
  const text = said?.says ?? rule.says?.text;
  const without = said?.without ?? rule.says?.without;
  return { ...(text !== undefined && { text }), ...(without !== undefined && { without }) };
}

/** The heading of a rule in a language. */
export function titleIn(ruleSet: RuleSet, rule: Rule, language: string): string {
  const own = ruleSet.language ?? DEFAULT_LANGUAGE;
  return (language === own ? undefined : rule.texts?.[language]?.title) ?? rule.title;
}

/** How values are written, by language: making a format takes longer than all the rest of a sentence. */
const shows = new Map<string, Show>();

function showOf(language: string, texts: KindTexts): Show {
  const known = shows.get(language);
  if (known !== undefined) return known;
  const locale = language === DEFAULT_LANGUAGE ? 'en-GB' : language;
  const dates = new Intl.DateTimeFormat(locale, { dateStyle: 'long', timeZone: 'UTC' });
  const show: Show = {
    number: showInOwnUnit(language, unitWordsOf(texts)),
    day: (day) => dates.format(dateOf(`${day}T00:00:00.000Z`)),
  };
  shows.set(language, show);
  return show;
}

interface Told {
  compiled: CompiledRuleSet;
  rule: Rule;
  binder: Binder;
  run: Run;
  language: string;
  texts: KindTexts;
}

/** Names of options begin with a capital, and stand within a sentence where their language writes that small. */
function withinSentence(word: string, texts: KindTexts): string {
  const isName = /^\p{Lu}[\p{L}-]*[\p{Lu}\d]/u.test(word) || /\d/.test(word);
  return texts['list.small'] === 'yes' && !isName ? word.charAt(0).toLowerCase() + word.slice(1) : word;
}

/** "a, b or c"; names that have a comma of their own are parted by semicolons. */
function joined(words: readonly string[], texts: KindTexts): string {
  const shown = words.map((word) => withinSentence(word, texts));
  const last = shown.at(-1) ?? '';
  const [comma, or] = shown.some((word) => word.includes(',')) ? ['; ', '; '] : [', ', ' '];
  return shown.length < 2 ? last : `${shown.slice(0, -1).join(comma)}${or}${texts['or'] ?? '/'} ${last}`;
}

function labelOf(rule: Rule, language: string, title: string): string {
  const item = rule.test.kind === 'expression' ? undefined : findItem(rule.test.item);
  return item === undefined ? title : itemTexts(item, language).label;
}

/** Everything that a sentence of this rule may name, at one position. */
function valuesOf(told: Told): { key: string | undefined; values: Record<string, SaysValue | undefined> } {
  const { compiled, rule, binder, run, language, texts } = told;
  const join = (words: readonly string[]) => joined(words, texts);
  const title = titleIn(compiled.ruleSet, rule, language);
  const kind = kindSays(rule.test, { binder, run, language, join });
  const own = Object.entries(rule.says?.values ?? {}).map(([name, expression]) => {
    const part = compileValue(compiled, expression, binder.each);
    const value = part && bindPart(part, binder)(run);
    return [name, part && shownValue(part, value, { rule, language, join })] as const;
  });
  return {
    key: kind.key,
    values: {
      title: { text: title },
      label: { text: labelOf(rule, language, title) },
      ...kind.values,
      ...Object.fromEntries(own),
    },
  };
}

function pick(
  values: Readonly<Record<string, SaysValue | undefined>>,
  template: string,
): Sentence['values'] | undefined {
  const named = placesOf(template).map((name) => [name, values[name]] as const);
  const known = named.filter((one): one is [string, SaysValue] => one[1] !== undefined);
  return known.length === named.length ? Object.fromEntries(known) : undefined;
}

function tell(told: Told): Says | undefined {
  const { compiled, rule, language, texts } = told;
  const { key, values } = valuesOf(told);
  const said = templatesOf(compiled.ruleSet, rule, language);
  const template = said.text ?? (key === undefined ? undefined : texts[key]);
  if (template === undefined) return undefined;
  const known = pick(values, template);
  const open = said.without ?? texts['unknown'] ?? '';
  const sentence =
    known === undefined ? { template: open, values: pick(values, open) ?? {} } : { template, values: known };
  const text = fillSentence(sentence, showOf(language, texts));
  return { ...sentence, text, isOpen: known === undefined };
}

/** The name of a rule at a position. */
export const placeOfRule = (ruleId: string, position: string | undefined): string =>
  position === undefined ? ruleId : `${ruleId}@${position}`;

/**
 * The limit of each rule as one sentence, at each position where it runs on this car. It needs no answer: what follows from
 * the car, the venue and the run group stands in it, and what is not known is said to be.
 *
 * @param places rule ids with their position (`placeOfRule`) to be told; absent: all
 * @returns by rule id and position; nothing for a rule that no sentence can be made of
 */
export function sayLimits(
  compiled: CompiledRuleSet,
  input: JudgeInput,
  language: string,
  places?: ReadonlySet<string>,
): Map<string, Says> {
  const said = new Map<string, Says>();
  const run = runOf(input);
  const texts = KIND_TEXTS[language] ?? en;
  for (const one of compiled.rules) {
    const bound = bindRule(compiled, one, input);
    for (const position of bound.positions) {
      const place = placeOfRule(one.rule.id, position);
      if (places !== undefined && !places.has(place)) continue;
      const says = tellSafely({ compiled, rule: one.rule, binder: bound.binder(position), run, language, texts });
      if (says !== undefined) said.set(place, says);
    }
  }
  return said;
}

/** A rule that cannot be told has no sentence: its title stands alone. */
function tellSafely(told: Told): Says | undefined {
  try {
    return tell(told);
  } catch {
    // as in judging: what cannot be made ready has no answer
    return undefined;
  }
}
