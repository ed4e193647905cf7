import type { PositionScheme } from '../../catalogue/item.ts';
import type { Program, Step } from './program.ts';
import { eachOf } from '../model/rule-each.ts';
import { compileRuleExpression, noUses, type RuleExpression } from '../model/rule-scope.ts';
import type { ParameterOverride, Rule, RuleSet } from '../model/rule-set.ts';
import type { Slots } from '../judge/run.ts';

/** A run group's parameters as the programs made for them saw them. */
export interface ParameterBinding {
  overrides: Readonly<Record<string, ParameterOverride>>;
  /** by event days and kind of car */
  programs: Map<string, Program>;
  /** what the programs share, by event days */
  stores: Map<string, StepStore>;
}

export interface CompiledRule {
  rule: Rule;
  each: PositionScheme | undefined;
}

/**
 * A rule set made ready to judge: expressions are compiled, and what does not depend on the answers is worked out
 * once per run group's parameters, event days and kind of car, and kept. Safe to share between requests.
 */
export interface CompiledRuleSet {
  readonly ruleSet: RuleSet;
  readonly rules: readonly CompiledRule[];
  /** by what the rule runs over and the text */
  readonly expressions: ReadonlyMap<string, RuleExpression>;
  readonly bindings: { byObject: WeakMap<object, ParameterBinding>; byContent: Map<string, ParameterBinding> };
}

/** The name an expression is kept under: the same text means another thing per wheel than per car. */
export const expressionKey = (source: string, each: PositionScheme | undefined): string => `${each ?? ''}|${source}`;

function compileExpressions(ruleSet: RuleSet, rules: readonly CompiledRule[]): Map<string, RuleExpression> {
  const expressions = new Map<string, RuleExpression>();
  for (const { rule, each } of rules) {
    for (const source of [rule.when, rule.test.kind === 'expression' ? rule.test.expr : undefined]) {
      const key = expressionKey(source ?? '', each);
      if (source === undefined || expressions.has(key)) continue;
      const compiled = compileRuleExpression(source, ruleSet, each, noUses());
      // one that does not compile is left out: its rule has no answer then, and bars if it can
      if (compiled.ok) expressions.set(key, compiled.expression);
    }
  }
  return expressions;
}

/**
 * Compiles a rule set that has passed `checkRuleSet`. Do it once per published version and keep the result.
 *
 * @throws never — a rule that cannot be compiled is `unanswerable` in every judgement
 */
export function compileRuleSet(ruleSet: RuleSet): CompiledRuleSet {
  const rules = ruleSet.rules.map((rule) => ({ rule, each: eachOf(rule) }));
  return {
    ruleSet,
    rules,
    expressions: compileExpressions(ruleSet, rules),
    bindings: { byObject: new WeakMap(), byContent: new Map() },
  };
}

/** The positions of an item on one kind of car. */
export type PositionsOf = (itemKey: string) => readonly string[];

interface KeptStep {
  position: string | undefined;
  step: Step;
  /** the positions that making it asked for: all that it knows of the kind of car; most ask for none */
  asked: ReadonlyMap<string, readonly string[]> | undefined;
}

/**
 * The steps made under one run group's parameters and one event's days, for all kinds of car. Most steps are the same
 * for every kind; sharing them keeps what a judgement reads small, whatever mix of cars comes one after the other.
 */
export interface StepStore {
  /** the cells that the steps read; they only grow, so that a step keeps its slots */
  slots: Slots;
  kept: Map<CompiledRule, KeptStep[]>;
}

export const makeStepStore = (): StepStore => ({ slots: new Map(), kept: new Map() });

function isSame(one: readonly string[], other: readonly string[]): boolean {
  return one.length === other.length && one.every((position, index) => position === other[index]);
}

function isFor({ asked }: KeptStep, positionsOf: PositionsOf): boolean {
  for (const [itemKey, positions] of asked ?? []) {
    if (!isSame(positions, positionsOf(itemKey))) return false;
  }
  return true;
}

/**
 * The step of a rule at a position: one made for another kind of car that has the same positions of all items that
 * were asked for, or a new one.
 *
 * @param make makes the step; it learns of the kind of car through what it is given, and only while it runs
 */
export function findStep(
  store: StepStore,
  rule: CompiledRule,
  position: string | undefined,
  positionsOf: PositionsOf,
  make: (positionsOf: PositionsOf) => Step,
): Step {
  const kept = store.kept.get(rule) ?? [];
  const found = kept.find((one) => one.position === position && isFor(one, positionsOf));
  if (found !== undefined) return found.step;
  let asked: Map<string, readonly string[]> | undefined;
  const step = make((itemKey) => {
    const positions = positionsOf(itemKey);
    asked = (asked ?? new Map<string, readonly string[]>()).set(itemKey, positions);
    return positions;
  });
  kept.push({ position, step, asked });
  store.kept.set(rule, kept);
  return step;
}
