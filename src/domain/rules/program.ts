import { findItem, itemApplies, positionsFor } from '../catalogue/catalogue.ts';
import type { Item } from '../catalogue/item.ts';
import { convert } from '../quantity.ts';
import type { Vehicle } from '../vehicle.ts';
import { type FindingHead, type Judge, unanswerableFinding } from './build-finding.ts';
import { type CompiledRule, type CompiledRuleSet, expressionKey } from './compile-rule-set.ts';
import { bindFixFact } from './facts-fix.ts';
import { bindPart, traceMissing } from './kinds/expression.ts';
import type { Binder } from './kinds/kind.ts';
import { kindOfTest } from './kinds/kinds.ts';
import { bindParameter, type BoundParameter, unitOfParameter } from './parameter-values.ts';
import { isPlaceless, positionsOfRule } from './rule-each.ts';
import type { EventDays, ParameterOverride, ParameterValue } from './rule-set.ts';
import type { Slots } from './run.ts';

/** One rule at one position, ready to judge. */
export interface Step {
  head: FindingHead;
  judge: Judge;
}

/** All rules that apply to one kind of car, in rule-set order, under one run group's parameters and event days. */
export interface Program {
  steps: readonly Step[];
  /** the cells that the steps read, by slot */
  cells: readonly string[];
}

interface Situation {
  compiled: CompiledRuleSet;
  overrides: Readonly<Record<string, ParameterOverride>>;
  event: EventDays;
  vehicle: Vehicle;
  asked: Map<string, readonly string[] | undefined>;
  slots: Slots;
}

function askedAt(situation: Situation, item: Item): readonly string[] | undefined {
  const { asked, vehicle } = situation;
  if (!asked.has(item.key)) {
    asked.set(item.key, itemApplies(item, vehicle) ? positionsFor(item, vehicle) : []);
  }
  return asked.get(item.key);
}

function inOwnUnit(situation: Situation, name: string, bound: BoundParameter | undefined): ParameterValue | undefined {
  if (bound === undefined || typeof bound.value !== 'number') return bound?.value;
  const declared = situation.compiled.ruleSet.parameters[name];
  const unit = declared && unitOfParameter(declared);
  return unit === undefined ? undefined : convert(bound.value, bound.unit, unit);
}

function makeBinder(situation: Situation, { rule, each }: CompiledRule, position: string | undefined): Binder {
  const { compiled, overrides, event, slots } = situation;
  const { id: ruleId, title, effect, watch: watched, items, basis, message, fix } = rule;
  const parameter = (name: string) => bindParameter(compiled.ruleSet, overrides, name);
  const fixMore = bindFixFact(rule, each, position, event);
  return {
    ruleSet: compiled.ruleSet,
    rule,
    head: { ruleId, title, position, effect, watched, items, basis, message, fix, fixMore },
    each,
    position,
    event,
    slots,
    parameter,
    parameterInOwnUnit: (name) => inOwnUnit(situation, name, parameter(name)),
    expression(source) {
      const expression = compiled.expressions.get(expressionKey(source, each));
      if (expression === undefined) throw new Error('this expression does not compile');
      return expression;
    },
    positionsOf(key) {
      const item = findItem(key);
      return item === undefined ? [] : (askedAt(situation, item) ?? []);
    },
  };
}

/** A rule with a condition gives no finding where the condition is false, and has no answer where that has none. */
function withCondition(when: string, binder: Binder, judge: Judge): Judge {
  const condition = bindPart(binder.expression(when), binder);
  return (run) => {
    const applies = condition(run);
    if (applies === false) return undefined;
    if (applies !== true) return unanswerableFinding(binder.head, run, traceMissing(run, condition));
    run.source = undefined;
    return judge(run);
  };
}

/** Fail closed: a rule that cannot be made ready has no answer, whatever the reason. */
function makeUnusable(head: FindingHead): Step {
  const missing = [{ says: 'This rule cannot be judged as it is written', inspectorOnly: false }];
  return { head, judge: (run) => unanswerableFinding(head, run, missing) };
}

function makeStep(situation: Situation, compiledRule: CompiledRule, position: string | undefined): Step {
  const binder = makeBinder(situation, compiledRule, position);
  const { head } = binder;
  const { rule } = compiledRule;
  try {
    const judge = kindOfTest(rule.test).bind(rule.test, binder);
    return { head, judge: rule.when === undefined ? judge : withCondition(rule.when, binder, judge) };
  } catch {
    return makeUnusable(head);
  }
}

function makeSteps(situation: Situation, compiled: CompiledRule): Step[] {
  const { rule, each } = compiled;
  if (isPlaceless(rule)) return [makeUnusable(makeBinder(situation, compiled, undefined).head)];
  const positions = positionsOfRule(rule, each, (item) => askedAt(situation, item));
  return positions.map((position) => makeStep(situation, compiled, position));
}

/** Makes the rules ready for one kind of car, one run group's parameters and one event's days. */
export function makeProgram(
  compiled: CompiledRuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
  event: EventDays,
  vehicle: Vehicle,
): Program {
  const slots: Slots = new Map();
  const situation: Situation = { compiled, overrides, event, vehicle, asked: new Map(), slots };
  const steps = compiled.rules.flatMap((rule) => makeSteps(situation, rule));
  return { steps, cells: [...slots.keys()] };
}
