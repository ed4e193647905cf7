import { findItem, itemApplies, positionsFor } from '../catalogue/catalogue.ts';
import type { Item, PositionScheme } from '../catalogue/item.ts';
import { convert } from '../quantity.ts';
import { bindPlace } from './bind-place.ts';
import { type CompiledRule, type CompiledRuleSet, expressionKey } from './compile-rule-set.ts';
import { findFact } from './facts.ts';
import type { JudgeInput } from './judge-input.ts';
import type { Binder } from './kinds/kind.ts';
import { bindParameter, unitOfParameter } from './parameter-values.ts';
import { isPlaceless, positionsOfRule } from './rule-each.ts';
import type { RuleExpression } from './rule-expression.ts';
import type { Rule } from './rule-set.ts';
import type { RuleRef } from './rule-scope.ts';
import type { Place, Run } from './run.ts';
import type { Limit } from './test-schema.ts';
import { findVehicleField } from './vehicle-fields.ts';

/** A rule as it is bound to one car, to be told and not to be judged with. */
export interface BoundRule {
  rule: Rule;
  each: PositionScheme | undefined;
  /** where it runs on this car: `[undefined]` once for the car, `[]` nowhere */
  positions: readonly (string | undefined)[];
  binder(position: string | undefined): Binder;
}

/** A name that a rule reads, with the place where it is read. */
export interface BoundRead {
  ref: RuleRef;
  place: Place;
}

const askedAt = (item: Item, input: JudgeInput): readonly string[] | undefined =>
  itemApplies(item, input.vehicle) ? positionsFor(item, input.vehicle) : [];

/** Binds a rule to the car, event days and parameters of a judgement. */
export function bindRule(compiled: CompiledRuleSet, { rule, each }: CompiledRule, input: JudgeInput): BoundRule {
  const { ruleSet } = compiled;
  const { id: ruleId, title, effect, watch: watched, items, basis, message, fix } = rule;
  const parameter = (name: string) => bindParameter(ruleSet, input.parameters, name);
  const binder = (position: string | undefined): Binder => ({
    ruleSet,
    rule,
    head: { ruleId, title, position, effect, watched, items, basis, message, fix },
    each,
    position,
    event: input.event,
    parameter,
    parameterInOwnUnit(name) {
      const bound = parameter(name);
      if (bound === undefined || typeof bound.value !== 'number') return bound?.value;
      const declared = ruleSet.parameters[name];
      const unit = declared && unitOfParameter(declared);
      return unit === undefined ? undefined : convert(bound.value, bound.unit, unit);
    },
    expression(source) {
      const expression = compiled.expressions.get(expressionKey(source, each));
      if (expression === undefined) throw new Error('this expression does not compile');
      return expression;
    },
    positionsOf(key) {
      const item = findItem(key);
      return item === undefined ? [] : (askedAt(item, input) ?? []);
    },
  });
  const positions = isPlaceless(rule) ? [undefined] : positionsOfRule(rule, each, (item) => askedAt(item, input));
  return { rule, each, positions, binder };
}

/** The state of a judgement at its start, to read inputs with; see `Run`. */
export function runOf(input: JudgeInput): Run {
  const { answers, measured, vehicle, venue, earlier = [], photos, stage } = input;
  return {
    answers,
    measured,
    sheet: undefined,
    measuredSheet: undefined,
    vehicle,
    venue,
    earlier,
    derived: new Map(),
    photos,
    stage,
    concessions: undefined,
    source: undefined,
    missing: undefined,
  };
}

const vehicleRef = (limit: Limit | undefined): RuleRef[] => {
  const field = limit !== undefined && 'vehicle' in limit ? findVehicleField(limit.vehicle) : undefined;
  return field === undefined ? [] : [{ from: 'vehicle', field }];
};

function limitsOf({ test }: Rule): (Limit | undefined)[] {
  if (test.kind === 'limit') return [test.atLeast, test.atMost];
  if (test.kind === 'range') return [test.from, test.to];
  return test.kind === 'spread' ? [test.atMost] : [];
}

function daysOf({ test }: Rule): RuleRef[] {
  if (test.kind === 'age') return [{ from: 'event', name: test.at === 'event-start' ? 'startsOn' : 'endsOn' }];
  return test.kind === 'valid-through' ? [{ from: 'event', name: 'endsOn' }] : [];
}

function typedRefs(rule: Rule): RuleRef[] {
  const { test } = rule;
  if (test.kind === 'expression' || test.kind === 'photo') return [];
  const item = findItem(test.item);
  const answer: RuleRef[] =
    item === undefined ? [] : [{ from: 'answer', item, ...(test.field !== undefined && { field: test.field }) }];
  return [...answer, ...limitsOf(rule).flatMap(vehicleRef), ...daysOf(rule)];
}

/** The expression as compiled; `undefined` where it does not compile, so that its rule had no answer. */
export function expressionOf(binder: Binder, source: string): RuleExpression | undefined {
  try {
    return binder.expression(source);
  } catch {
    // such a rule is judged `unanswerable`: there is nothing to read, and the finding says so
    return undefined;
  }
}

/** The answers that a derived fact is worked out from, part by part: they are what an entrant can look at. */
function answersBehind(ref: RuleRef): RuleRef[] {
  const items = ref.from === 'fact' ? (findFact(ref.name)?.items ?? []) : [];
  return items.flatMap((key): RuleRef[] => {
    const item = findItem(key);
    if (item === undefined) return [];
    if (item.answer.kind !== 'fields') return [{ from: 'answer', item }];
    return Object.keys(item.answer.fields).map((field) => ({ from: 'answer', item, field }));
  });
}

const refsOf = (expression: RuleExpression | undefined): RuleRef[] =>
  (expression?.variables ?? []).flatMap((variable) => [variable.ref, ...answersBehind(variable.ref)]);

/** What the test of a rule reads at one position, in the order in which it is written. */
export function readsOfTest(rule: Rule, binder: Binder): BoundRead[] {
  const { test } = rule;
  const refs = test.kind === 'expression' ? refsOf(expressionOf(binder, test.expr)) : typedRefs(rule);
  return refs.map((ref) => ({ ref, place: bindPlace(ref, binder) }));
}

/** What the condition of a rule reads at one position. */
export function readsOfCondition(when: string, binder: Binder): BoundRead[] {
  return refsOf(expressionOf(binder, when)).map((ref) => ({ ref, place: bindPlace(ref, binder) }));
}
