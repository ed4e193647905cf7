import type { z } from 'zod';
import { findItem } from '../../catalogue/catalogue.ts';
import type { RuleFault, RuleWarning } from '../model/rule-fault.ts';
import { noUses, type RuleRef, ruleScope, type Uses } from '../model/rule-scope.ts';
import {
  ALWAYS_LOOK_PARAMETER,
  AlwaysLook,
  CategoryName,
  ConcessionCategory,
  Example,
  Parameter,
  ParameterName,
  Rule,
  RuleSet,
  type SaysExpression,
} from '../model/rule-set.ts';
import { jsonPointer } from '../../json-pointer.ts';
import { placeOf } from '../cel/parse.ts';
import { compileCel } from '../cel/generate.ts';
import { isSingle } from '../cel/types.ts';
import { checkExpression } from '../kinds/expression.ts';
import type { KindChecker } from '../kinds/answer.ts';
import { kindOfTest } from '../kinds/kinds.ts';
import { findFixFactFault } from '../model/facts.ts';
import { eachOf, findEachFault } from '../model/rule-each.ts';
import { KIND_VALUES } from '../says/kind-values.ts';
import { placesOf } from '../says/sentence.ts';

function checkPoints({ alwaysLook = [] }: RuleSet): RuleFault[] {
  const ids = new Set<string>();
  return alwaysLook.flatMap(({ id, items }, at): RuleFault[] => {
    const pointer = `/alwaysLook/${at}`;
    const faults: RuleFault[] = items.flatMap((key, index): RuleFault[] => {
      const item = findItem(key);
      const place = `${pointer}/items/${index}`;
      if (item === undefined) {
        return [
          { pointer: place, code: 'unknown-item', detail: `there is no item ${JSON.stringify(key)} in the catalogue` },
        ];
      }
      const detail = `only the entrant answers ${JSON.stringify(key)}: the line has nothing to look at`;
      return item.answeredBy === 'entrant' ? [{ pointer: place, code: 'type-clash', detail }] : [];
    });
    if (ids.has(id)) {
      const detail = `another point has the id ${JSON.stringify(id)} already`;
      faults.push({ pointer: `${pointer}/id`, code: 'duplicate-id', detail });
    }
    ids.add(id);
    return faults;
  });
}

function checkList(ruleSet: RuleSet, ids: readonly string[]): RuleFault[] {
  const value = ruleSet.parameters[ALWAYS_LOOK_PARAMETER]?.value;
  const pointer = `/parameters/${ALWAYS_LOOK_PARAMETER}/value`;
  if (!Array.isArray(value)) return [{ pointer, code: 'type-clash', detail: 'a list of ids of alwaysLook is needed' }];
  return value
    .filter((id) => !ids.includes(id))
    .map((id) => {
      const detail = `${JSON.stringify(id)} is no id of alwaysLook; there are ${ids.join(', ')}`;
      return { pointer, code: 'unknown-option', detail };
    });
}

/** What is wrong with the points looked at on every car, and with the parameter that lists those of a group. */
export function checkAlwaysLook(ruleSet: RuleSet, uses: Uses): RuleFault[] {
  const faults = checkPoints(ruleSet);
  const { alwaysLook } = ruleSet;
  if (alwaysLook === undefined || !Object.hasOwn(ruleSet.parameters, ALWAYS_LOOK_PARAMETER)) return faults;
  const ids = alwaysLook.map(({ id }) => id);
  uses.parameters.add(ALWAYS_LOOK_PARAMETER);
  // so that what a venue or a group lists is checked, too
  uses.options.push({ parameter: ALWAYS_LOOK_PARAMETER, options: ids });
  return [...faults, ...checkList(ruleSet, ids)];
}

/** A rule set that names nothing lets a car be accepted on its declaration alone. */
export function warnOfNoLook({ alwaysLook = [], rules }: RuleSet): RuleWarning[] {
  // one without rules is only begun, or cannot be read
  if (alwaysLook.length > 0 || rules.length === 0) return [];
  const detail = 'no point is looked at on every car: a clean declaration is accepted without a look';
  return [{ pointer: '/alwaysLook', code: 'no-always-look', detail }];
}

const isRecord = (value: unknown): value is Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

function valueAt(raw: unknown, path: readonly PropertyKey[]): unknown {
  let value = raw;
  for (const part of path) {
    if (typeof value !== 'object' || value === null) return undefined;
    value = Object.hasOwn(value, part) ? (value as Readonly<Record<PropertyKey, unknown>>)[part] : undefined;
  }
  return value;
}

function toFaults(raw: unknown, issue: z.core.$ZodIssue): RuleFault[] {
  const pointer = jsonPointer(issue.path);
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map((key) => ({
      pointer: jsonPointer([...issue.path, key]),
      code: 'bad-shape',
      detail: `${JSON.stringify(key)} is not known here`,
    }));
  }
  const isMissing = valueAt(raw, issue.path) === undefined;
  if (issue.path[0] === 'rules' && issue.path[2] === 'basis' && isMissing && issue.path.length === 3) {
    return [
      {
        pointer,
        code: 'missing-basis',
        detail: 'say where the rule comes from: published with its source, or common-practice',
      },
    ];
  }
  if (issue.code === 'invalid_key')
    return issue.issues.map((inner) => ({ pointer, code: 'bad-shape', detail: inner.message }));
  return [{ pointer, code: 'bad-shape', detail: isMissing ? `missing: ${issue.message}` : issue.message }];
}

const list = (raw: unknown): readonly unknown[] => (Array.isArray(raw) ? raw : []);

function keepValid<T>(schema: z.ZodType<T>, raw: unknown): { at: number; value: T }[] {
  return list(raw).flatMap((one, at) => {
    const parsed = schema.safeParse(one);
    return parsed.success ? [{ at, value: parsed.data }] : [];
  });
}

function keepValidEntries<T>(names: z.ZodType<string>, schema: z.ZodType<T>, raw: unknown): Record<string, T> {
  const kept = Object.entries(isRecord(raw) ? raw : {}).flatMap(([name, one]) => {
    const parsed = schema.safeParse(one);
    return names.safeParse(name).success && parsed.success ? [[name, parsed.data] as const] : [];
  });
  return Object.fromEntries(kept);
}

/** Stands in for words that a rule lacks, so that its test is checked all the same; the lack itself is told. */
const WORDS = { title: '?', message: '?', fix: '?', effect: 'bar', basis: { kind: 'common-practice' } };

const fillWords = (raw: unknown): unknown => (isRecord(raw) ? { ...WORDS, ...raw } : raw);

/** The parts of a document that have the right shape, with their places; the rest is told in `faults`. */
export interface Shaped {
  ruleSet: RuleSet;
  rules: { at: number; value: Rule }[];
  examples: { at: number; value: Example }[];
  faults: RuleFault[];
}

/** Reads a document as far as it can be read, so that all its faults can be told at once. */
export function readShape(raw: unknown): Shaped {
  const parsed = RuleSet.safeParse(raw);
  if (parsed.success) {
    const ruleSet = parsed.data;
    const indexed = <T>(list: readonly T[]) => list.map((value, at) => ({ at, value }));
    return { ruleSet, rules: indexed(ruleSet.rules), examples: indexed(ruleSet.examples), faults: [] };
  }
  const document = isRecord(raw) ? raw : {};
  const rules = keepValid(Rule, list(document['rules']).map(fillWords));
  const ruleSet = {
    name: '',
    parameters: keepValidEntries(ParameterName, Parameter, document['parameters']),
    concessionCategories: keepValidEntries(CategoryName, ConcessionCategory, document['concessionCategories']),
    ...(Array.isArray(document['alwaysLook']) && {
      alwaysLook: keepValid(AlwaysLook, document['alwaysLook']).map(({ value }) => value),
    }),
    rules: rules.map(({ value }) => value),
    examples: [],
  };
  const faults = parsed.error.issues.flatMap((issue) => toFaults(raw, issue));
  return { ruleSet, rules, examples: keepValid(Example, document['examples']), faults };
}

type Note = (path: string, code: RuleFault['code'], detail: string, at?: RuleFault['at']) => void;

function checkItems(rule: Rule, read: ReadonlySet<string>, note: Note): void {
  rule.items.forEach((key, index) => {
    if (findItem(key) === undefined)
      note(`/items/${index}`, 'unknown-item', `there is no item ${JSON.stringify(key)} in the catalogue`);
  });
  for (const key of read) {
    if (!rule.items.includes(key)) {
      note('/items', 'item-not-listed', `the test reads ${JSON.stringify(key)}, which the rule does not list`);
    }
  }
}

function join(into: Uses, from: Uses): void {
  for (const name of from.parameters) into.parameters.add(name);
  for (const name of from.steps) into.steps.add(name);
  for (const name of from.differences) into.differences.add(name);
  for (const name of from.divisors) into.divisors.add(name);
  into.options.push(...from.options);
}

/**
 * Checks one rule against the catalogue and the rule set's parameters.
 *
 * @param uses is told what the rule uses
 * @returns every fault, with pointers below `pointer`
 */
export function checkRule(rule: Rule, ruleSet: RuleSet, pointer: string, uses: Uses): RuleFault[] {
  const faults: RuleFault[] = [];
  const note: Note = (path, code, detail, at) =>
    faults.push({ pointer: `${pointer}${path}`, code, detail, ...(at !== undefined && { at }) });
  const eachFault = findEachFault(rule);
  if (eachFault !== undefined) note('/each', 'each-mismatch', eachFault);
  const test = noUses();
  const checker: KindChecker = {
    ruleSet,
    rule,
    each: eachOf(rule),
    uses: test,
    fault: (path, code, detail, at) => note(`/test${path}`, code, detail, at),
  };
  // a wrong `each` would make names mean something else: told once, not once per name
  if (eachFault === undefined) kindOfTest(rule.test).check(rule.test, checker);
  checkItems(rule, test.items, note);
  const fixFault = findFixFactFault(rule);
  if (fixFault !== undefined) note('/fixFact', fixFault.code, fixFault.detail);
  join(uses, test);
  if (eachFault === undefined) {
    const said = noUses();
    checkSays(rule, ruleSet, said, note);
    join(uses, said);
  }
  if (rule.when !== undefined && eachFault === undefined) {
    const condition = noUses();
    checkExpression(rule.when, { ...checker, uses: condition }, ({ code, detail, at }) =>
      note('/when', code, detail, at),
    );
    join(uses, condition);
  }
  return faults;
}

const NAMED_BY_ALL = ['label', 'title'];

function checkValue(rule: Rule, ruleSet: RuleSet, path: string, value: SaysExpression, uses: Uses, note: Note): void {
  const source = typeof value === 'string' ? value : 'atLeast' in value ? value.atLeast : value.atMost;
  const at = typeof value === 'string' ? path : `${path}/${'atLeast' in value ? 'atLeast' : 'atMost'}`;
  const made = compileCel<RuleRef>(source, ruleScope(ruleSet, eachOf(rule), uses), 'any');
  if (!made.ok) {
    for (const { code, detail, offset } of made.faults) note(at, code, detail, placeOf(source, offset));
    return;
  }
  const { type } = made.expression.checked;
  if (!isSingle(type) || type.kind === 'bool')
    note(at, 'type-clash', 'a sentence shows one number, date, text or list, this is something else');
}

/** The sentences of a rule with their places in it. */
function sentencesOf({ says, texts = {} }: Rule): [path: string, text: string][] {
  const own: [string, string | undefined][] = [
    ['/says/text', says?.text],
    ['/says/without', says?.without],
  ];
  const others = Object.entries(texts).flatMap(([language, said]): [string, string | undefined][] => [
    [`/texts/${language}/says`, said.says],
    [`/texts/${language}/without`, said.without],
  ]);
  return [...own, ...others].filter((one): one is [string, string] => one[1] !== undefined);
}

/**
 * Checks the limit sentences of a rule: each name that stands in them has a value, and each value can be worked out.
 *
 * @param uses is told what the values use
 */
function checkSays(rule: Rule, ruleSet: RuleSet, uses: Uses, note: Note): void {
  const values = rule.says?.values ?? {};
  for (const [name, value] of Object.entries(values)) {
    checkValue(rule, ruleSet, `/says/values/${name}`, value, uses, note);
  }
  const known = new Set([...NAMED_BY_ALL, ...KIND_VALUES[rule.test.kind], ...Object.keys(values)]);
  for (const [path, text] of sentencesOf(rule)) {
    for (const name of placesOf(text)) {
      if (known.has(name)) continue;
      note(path, 'unknown-name', `{${name}} has no value here; there are ${[...known].join(', ')}`);
    }
  }
}
