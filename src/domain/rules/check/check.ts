import { type Answers, parseAnswers } from '../../declaration/declaration.ts';
import { jsonPointer } from '../../json-pointer.ts';
import { type CompiledRuleSet, compileRuleSet } from '../compile/compile-rule-set.ts';
import { evaluate } from '../judge/evaluate.ts';
import type { Finding, Judgement, Result } from '../model/finding.ts';
import type { RuleFault, RuleWarning } from '../model/rule-fault.ts';
import { noUses, type Uses } from '../model/rule-scope.ts';
import type { Example, ParameterOverride, Rule, RuleSet } from '../model/rule-set.ts';
import { checkAlwaysLook, checkRule, readShape, type Shaped, warnOfNoLook } from './check-rule.ts';
import { bindValues, checkOverridesWith, checkParameters, noteMentioned } from './check-parameters.ts';
import { type Budget, findNever, newBudget } from './never.ts';

const WORST: readonly Result[] = ['not-met', 'unanswerable', 'met'];

const nameOf = (finding: Finding): string =>
  finding.position === undefined ? finding.ruleId : `${finding.ruleId}@${finding.position}`;

/** The result under a key of `findings`: of one position, or the worst of a rule's positions. */
function resultOf(judgement: Judgement, key: string): Result | 'absent' {
  const of = judgement.findings.filter((finding) => finding.ruleId === key || nameOf(finding) === key);
  return WORST.find((result) => of.some((finding) => finding.result === result)) ?? 'absent';
}

function describeCause(judgement: Judgement): string {
  const heavy = judgement.findings.filter((finding) => finding.counts === 'bar' || finding.counts === 'inspect');
  const named = heavy.slice(0, 5).map((finding) => `${nameOf(finding)} ${finding.result}: ${finding.message}`);
  return named.length === 0 ? 'nothing counts against it' : named.join(' | ');
}

function readAnswers(raw: unknown, pointer: string, faults: RuleFault[]): Answers {
  const parsed = parseAnswers(raw);
  if (parsed.ok) return parsed.answers;
  for (const fault of parsed.faults)
    faults.push({ pointer: `${pointer}${fault.pointer}`, code: 'bad-example', detail: fault.detail });
  return new Map();
}

function checkReferences(example: Example, ruleSet: RuleSet, pointer: string, uses: Uses): RuleFault[] {
  const ids = new Set(ruleSet.rules.map((rule) => rule.id));
  const faults = checkOverridesWith(ruleSet, example.parameters ?? {}, uses).map((fault) => ({
    ...fault,
    pointer: `${pointer}/parameters${fault.pointer}`,
  }));
  const unknown = (path: string, id: string) =>
    faults.push({
      pointer: `${pointer}${path}`,
      code: 'unknown-rule',
      detail: `there is no rule ${JSON.stringify(id)}`,
    });
  example.only?.forEach((id, index) => ids.has(id) || unknown(`/only/${index}`, id));
  for (const key of Object.keys(example.findings ?? {})) {
    const [id = ''] = key.split('@');
    if (!ids.has(id)) unknown(jsonPointer(['findings', key]), id);
  }
  return faults;
}

function compare(example: Example, judgement: Judgement, pointer: string): RuleFault[] {
  const faults: RuleFault[] = [];
  if (judgement.verdict !== example.expect) {
    const detail = `${JSON.stringify(example.name)} must be ${example.expect} and is ${judgement.verdict} (${describeCause(judgement)})`;
    faults.push({ pointer: `${pointer}/expect`, code: 'example-failed', detail });
  }
  for (const [key, expected] of Object.entries(example.findings ?? {})) {
    const actual = resultOf(judgement, key);
    if (actual === expected) continue;
    const detail = `${JSON.stringify(example.name)}: ${key} must be ${expected} and is ${actual}`;
    faults.push({ pointer: `${pointer}${jsonPointer(['findings', key])}`, code: 'example-failed', detail });
  }
  return faults;
}

/** Most examples judge one rule, several the same: what judges these rules alone is made once. */
const alone = new WeakMap<CompiledRuleSet, Map<string, CompiledRuleSet>>();

function judgedBy(compiled: CompiledRuleSet, only: readonly string[]): CompiledRuleSet {
  const known = alone.get(compiled) ?? new Map<string, CompiledRuleSet>();
  alone.set(compiled, known);
  const key = only.join(' ');
  const { ruleSet } = compiled;
  const made =
    known.get(key) ?? compileRuleSet({ ...ruleSet, rules: ruleSet.rules.filter((rule) => only.includes(rule.id)) });
  known.set(key, made);
  return made;
}

/** Judges an example and tells where it does not come out as it says. */
export function checkExample(example: Example, compiled: CompiledRuleSet, pointer: string, uses: Uses): RuleFault[] {
  const { ruleSet } = compiled;
  const faults = checkReferences(example, ruleSet, pointer, uses);
  const read = (raw: Example['answers'], path: string): Answers =>
    readAnswers(bindValues(raw, ruleSet, example.parameters), `${pointer}${path}`, faults);
  const answers = read(example.answers, '/answers');
  const measured = example.measured && read(example.measured, '/measured');
  if (faults.length > 0) return faults;
  const judged = example.only === undefined ? compiled : judgedBy(compiled, example.only);
  const judgement = evaluate(judged, {
    answers,
    ...(measured !== undefined && { measured }),
    ...(example.photos !== undefined && { photos: example.photos }),
    vehicle: example.vehicle,
    event: example.event,
    venue: example.venue ?? {},
    earlier: example.earlier,
    parameters: example.parameters ?? {},
    concessions: [],
    stage: example.stage ?? 'declaration',
  });
  return compare(example, judgement, pointer);
}

export type CheckedRuleSet =
  | { ok: true; ruleSet: RuleSet; compiled: CompiledRuleSet; warnings: RuleWarning[] }
  | { ok: false; faults: RuleFault[]; warnings: RuleWarning[] };

function findDuplicates(shaped: Shaped): RuleFault[] {
  const first = new Map<string, number>();
  return shaped.rules.flatMap(({ at, value }): RuleFault[] => {
    const before = first.get(value.id);
    if (before === undefined) {
      first.set(value.id, at);
      return [];
    }
    return [
      {
        pointer: `/rules/${at}/id`,
        code: 'duplicate-id',
        detail: `rule ${before} has the id ${JSON.stringify(value.id)} already`,
      },
    ];
  });
}

/**
 * Everything that is wrong with one rule in itself, as part of a rule set whose parameters it may use. Rules that
 * venues and run groups add are checked by it too.
 *
 * @param uses is told what the rule uses
 * @returns every fault, with pointers below `pointer`
 */
export function checkWholeRule(
  rule: Rule,
  ruleSet: RuleSet,
  pointer: string,
  uses: Uses,
  budget = newBudget(),
): RuleFault[] {
  const faults = checkRule(rule, ruleSet, pointer, uses);
  // what a rule with a fault means is not known, so that nothing else can be said of it
  return faults.length > 0 ? faults : checkNever(rule, ruleSet, pointer, budget);
}

function checkRules({ ruleSet, rules }: Shaped, uses: Uses): RuleFault[] {
  const budget = newBudget();
  return rules.flatMap(({ at, value }) => checkWholeRule(value, ruleSet, `/rules/${at}`, uses, budget));
}

function checkAll(raw: unknown, shaped: Shaped, uses: Uses): RuleFault[] {
  const { ruleSet } = shaped;
  const rules = checkRules(shaped, uses);
  // a rule with a fault may not have come as far as its parameters: what it mentions counts as used
  if (shaped.faults.length + rules.length > 0) noteMentioned(raw, uses.parameters);
  const looks = checkAlwaysLook(ruleSet, uses);
  const whole = [...findDuplicates(shaped), ...looks, ...checkParameters(ruleSet, uses), ...checkCategories(shaped)];
  return [...shaped.faults, ...whole, ...rules];
}

/**
 * Checks a rule set as it would be published: its shape, every name, type and unit in it against the catalogue, rules
 * that can never apply or never fail, and its examples, which are judged once everything else is in order.
 *
 * @param raw the document as parsed JSON, of any shape
 * @returns the rule set ready to judge, or every fault with its place (RFC 6901 pointer into the document); with
 *   either, warnings: what does not keep it from being published
 * @throws never
 */
export function checkRuleSet(raw: unknown): CheckedRuleSet {
  const uses = noUses();
  const shaped = readShape(raw);
  const warnings = [...findUncovered(shaped), ...warnOfNoLook(shaped.ruleSet)];
  const faults = checkAll(raw, shaped, uses);
  if (faults.length > 0) return { ok: false, faults, warnings };
  const compiled = compileRuleSet(shaped.ruleSet);
  const failed = shaped.examples.flatMap(({ at, value }) => checkExample(value, compiled, `/examples/${at}`, uses));
  if (failed.length > 0) return { ok: false, faults: failed, warnings };
  return { ok: true, ruleSet: shaped.ruleSet, compiled, warnings };
}

/**
 * Checks a run group's overrides against a rule set that is in order: unknown names, values of another kind, units
 * that do not convert, texts that are not among an item's options.
 *
 * @returns every fault; pointers are relative to the overrides, `/padMinimum/unit`
 */
export function checkOverrides(ruleSet: RuleSet, overrides: Readonly<Record<string, ParameterOverride>>): RuleFault[] {
  const uses = noUses();
  ruleSet.rules.forEach((rule, at) => checkRule(rule, ruleSet, `/rules/${at}`, uses));
  checkAlwaysLook(ruleSet, uses);
  return checkOverridesWith(ruleSet, overrides, uses);
}

/** Results that an example states, by rule id: of the whole rule, or at one position. */
function noteStated(example: Example, stated: Map<string, Set<string>>): void {
  for (const [key, result] of Object.entries(example.findings ?? {})) {
    const [id = ''] = key.split('@');
    const results = stated.get(id) ?? new Set();
    stated.set(id, results.add(result));
  }
}

/** Rules that no example shows met, or none shows not met, by what the examples state under `findings`. */
function findUncovered({ rules, examples }: Shaped): RuleWarning[] {
  const stated = new Map<string, Set<string>>();
  for (const { value } of examples) noteStated(value, stated);
  return rules.flatMap(({ at, value: { id } }): RuleWarning[] => {
    const results = stated.get(id);
    const pointer = `/rules/${at}`;
    const named = JSON.stringify(id);
    return [
      ...(results?.has('met')
        ? []
        : [{ pointer, code: 'no-passing-example' as const, detail: `no example states that ${named} is met` }]),
      ...(results?.has('not-met')
        ? []
        : [{ pointer, code: 'no-failing-example' as const, detail: `no example states that ${named} is not met` }]),
    ];
  });
}

/** Categories of exceptions that rules name and the rule set does not have, and those it has and no rule names. */
export function checkCategories({ ruleSet, rules }: Shaped): RuleFault[] {
  const categories = ruleSet.concessionCategories ?? {};
  const unknown = rules.flatMap(({ at, value: { concession } }): RuleFault[] => {
    if (concession === undefined || Object.hasOwn(categories, concession)) return [];
    const detail = `the rule set has no concession category ${JSON.stringify(concession)}`;
    return [{ pointer: `/rules/${at}/concession`, code: 'unknown-category', detail }];
  });
  const used = new Set(rules.map(({ value }) => value.concession));
  const unused = Object.keys(categories)
    .filter((name) => !used.has(name))
    .map((name): RuleFault => {
      const pointer = jsonPointer(['concessionCategories', name]);
      const detail = `no rule is in the concession category ${JSON.stringify(name)}`;
      return { pointer, code: 'unused-category', detail };
    });
  return [...unknown, ...unused];
}

function whyNever(rule: Rule): string {
  if (rule.test.kind === 'expression') return 'this is true whatever is answered, or has no answer';
  return `every answer that ${JSON.stringify(rule.test.item)} allows meets this`;
}

/** Notes a rule that is in order and yet idle: no car makes it apply, or no answer makes it fail. */
function checkNever(rule: Rule, ruleSet: RuleSet, pointer: string, budget: Budget): RuleFault[] {
  const never = findNever(rule, ruleSet, budget);
  if (never === undefined) return [];
  if (never === 'never-fails') {
    return [{ pointer: `${pointer}/test`, code: never, detail: `the rule can never fail: ${whyNever(rule)}` }];
  }
  const detail = 'the rule can never apply: this is true for no car that is asked its items';
  return [{ pointer: `${pointer}/when`, code: never, detail }];
}
