import { findItem } from '../../catalogue/catalogue.ts';
import { POSITION_KEYS, type PositionScheme } from '../../catalogue/item.ts';
import { checkTypes } from '../cel/check-types.ts';
import type { Checked } from '../cel/types.ts';
import { parseCel } from '../cel/parse.ts';
import { type AnswerOf, boundAnswer, typeOfAnswer } from '../kinds/answer.ts';
import { bindLimit, distance } from '../kinds/limit.ts';
import { type Cases, combinations, noteAsked, noteRead } from './never-cases.ts';
import { mayBe, OutOfBudget } from './never-expression.ts';
import { askedAt, boundsOf, nameOf, type Possible, type Situation, suppose, wholeOf } from './never-places.ts';
import { eachOf, positionsOfRule } from '../model/rule-each.ts';
import { noUses, type RuleRef, ruleScope } from '../model/rule-scope.ts';
import type { Rule, RuleSet } from '../model/rule-set.ts';
import type { Limit, Test } from '../model/test-schema.ts';

type Part = Checked<RuleRef>;

interface Looked {
  rule: Rule;
  ruleSet: RuleSet;
  each: PositionScheme | undefined;
  when: Part | undefined;
  test: Part | undefined;
  budget: Budget;
}

/** Parts of expressions that may still be worked out. */
export interface Budget {
  left: number;
}

/** Enough for thousands of ordinary rules; what is left over then is not looked at, and nothing is said of it. */
const PARTS_PER_RULE_SET = 1_000_000;
const PARTS_PER_RULE = 20_000;
/** what a combination of cases costs beside its expressions, in parts */
const PARTS_PER_CASE = 40;

/** What looking through one rule set may cost. */
export const newBudget = (): Budget => ({ left: PARTS_PER_RULE_SET });

function read(source: string, ruleSet: RuleSet, each: PositionScheme | undefined): Part | undefined {
  const parsed = parseCel(source);
  const typed = parsed.ok ? checkTypes(parsed.node, ruleScope(ruleSet, each, noUses())) : undefined;
  return typed?.ok ? typed.checked : undefined;
}

/** The limit of a test in the unit of its item; `undefined` where the car's record states it. */
function limitOf(situation: Situation, limit: Limit, type: AnswerOf<'number'>, difference = false): number | undefined {
  return bindLimit(situation.binder, limit, type, difference).fixed;
}

type Numeric = Extract<Test, { kind: 'limit' | 'range' | 'spread' }>;

function limitsOf(test: Numeric): readonly Limit[] {
  if (test.kind === 'limit') return [test.atLeast ?? test.atMost].filter((limit) => limit !== undefined);
  return test.kind === 'range' ? [test.from, test.to] : [test.atMost];
}

function mayMiss(test: Numeric, possible: Possible, type: AnswerOf<'number'>, limits: readonly number[]): boolean {
  const { low, high } = boundsOf(possible);
  const [first = 0, second = 0] = limits;
  if (test.kind === 'spread') return distance(low, high, type.decimals) > first;
  if (test.kind === 'range') return low < first || high > second;
  const isStrict = test.strict === true;
  return test.atLeast === undefined
    ? high > first || (isStrict && high >= first)
    : low < first || (isStrict && low <= first);
}

function numericMayFail(test: Numeric, situation: Situation, possible: Possible): boolean {
  const item = findItem(test.item);
  const type = item && typeOfAnswer(item, test.field);
  if (type?.kind !== 'number') return true;
  const limits = limitsOf(test).map((limit) => limitOf(situation, limit, type, test.kind === 'spread'));
  return limits.some((limit) => limit === undefined) || mayMiss(test, possible, type, limits.map(Number));
}

/** The one answer a typed test judges, as a name of an expression would stand for it. */
function judged(test: Exclude<Test, { kind: 'expression' }>, situation: Situation) {
  const item = findItem(test.item);
  if (item === undefined) return undefined;
  const field = 'field' in test ? test.field : undefined;
  const variable = { type: { kind: 'error' } as const, ref: { from: 'answer' as const, item, field } };
  if (test.kind === 'spread' || test.kind === 'photo') return { variable, place: undefined };
  return { variable, place: boundAnswer(test, situation.binder) };
}

function typedMayFail(test: Exclude<Test, { kind: 'expression' }>, situation: Situation): boolean {
  const asked = judged(test, situation);
  if (asked === undefined) return true;
  const name = asked.place && nameOf(asked.place, asked.variable.ref);
  const { possible } = (name && situation.supposed.get(name)) || wholeOf(situation, asked.variable);
  switch (test.kind) {
    case 'limit':
    case 'range':
    case 'spread':
      return (possible.k !== 'one-of' || possible.values.length > 0) && numericMayFail(test, situation, possible);
    case 'confirm':
      return possible.k !== 'one-of' || possible.values.includes(!(test.expect ?? true));
    case 'one-of':
    case 'none-of': {
      const { values } = test;
      if (possible.k !== 'one-of' || !Array.isArray(values)) return true;
      return possible.values.some((value) => values.includes(String(value)) === (test.kind === 'none-of'));
    }
    case 'age':
    case 'valid-through':
    case 'photo':
      return true;
  }
}

function casesOf(looked: Looked, situation: Situation): Cases {
  const cases: Cases = new Map();
  const { rule, when, test } = looked;
  if (when !== undefined) noteRead(cases, situation, when);
  if (test !== undefined) noteRead(cases, situation, test);
  if (rule.test.kind === 'expression') return cases;
  const asked = judged(rule.test, situation);
  if (asked?.place !== undefined) noteAsked(cases, situation, asked.variable, [], asked.place);
  return cases;
}

/** Whether the rule is looked at and may fail at a position, as far as some things are supposed. */
function look(looked: Looked, position: string | undefined): { applies: boolean; fails: boolean } {
  const of = { ...looked, position };
  let applies = false;
  for (const supposed of combinations(casesOf(looked, suppose(of, new Map())))) {
    const situation = suppose(of, supposed);
    looked.budget.left -= PARTS_PER_CASE;
    if (looked.budget.left < 0) throw new OutOfBudget();
    const positions = positionsOfRule(looked.rule, looked.each, (item) => askedAt(item, situation.vehicle));
    if (!positions.includes(position)) continue;
    if (looked.when !== undefined && !mayBe(looked.when, situation, true)) continue;
    applies = true;
    const { test } = looked.rule;
    const fails =
      test.kind === 'expression'
        ? looked.test === undefined || mayBe(looked.test, situation, false)
        : typedMayFail(test, situation);
    if (fails) return { applies, fails };
  }
  return { applies, fails: false };
}

/**
 * Whether a rule that is otherwise in order can never apply (no car that is asked its items makes its condition true)
 * or can never fail (no possible answer gives `not-met`). Answers are taken to be anything their items allow, switches
 * and lists of the run group anything, numbers of the run group as the rule set states them.
 *
 * Sound, not complete: what is flagged is so; what depends on dates, texts or on many answers at once is not seen.
 *
 * @param budget of the whole rule set; is used up
 * @returns what is wrong, `undefined` when nothing is or when it cannot be told
 */
export function findNever(rule: Rule, ruleSet: RuleSet, budget: Budget): 'never-applies' | 'never-fails' | undefined {
  if (budget.left <= 0) return undefined;
  const own = { left: Math.min(PARTS_PER_RULE, budget.left) };
  const granted = own.left;
  try {
    return lookThrough(rule, ruleSet, own);
  } catch (error) {
    if (error instanceof OutOfBudget) return undefined;
    throw error;
  } finally {
    budget.left -= granted - own.left;
  }
}

function lookThrough(rule: Rule, ruleSet: RuleSet, budget: Budget): 'never-applies' | 'never-fails' | undefined {
  const each = eachOf(rule);
  const when = rule.when === undefined ? undefined : read(rule.when, ruleSet, each);
  const test = rule.test.kind === 'expression' ? read(rule.test.expr, ruleSet, each) : undefined;
  if (rule.when !== undefined && when === undefined) return undefined;
  const looked: Looked = { rule, ruleSet, each, when, test, budget };
  let applies = false;
  for (const position of each === undefined ? [undefined] : POSITION_KEYS[each]) {
    const found = look(looked, position);
    if (found.fails) return undefined;
    applies ||= found.applies;
  }
  return applies ? 'never-fails' : 'never-applies';
}
