import { findItem, itemApplies, positionsFor } from '../../catalogue/catalogue.ts';
import type { Item } from '../../catalogue/item.ts';
import { convert } from '../../quantity.ts';
import type { Vehicle } from '../../vehicle.ts';
import { type FindingHead, headOf, type Judge, unanswerableFinding } from '../judge/build-finding.ts';
import {
  type CompiledRule,
  type CompiledRuleSet,
  expressionKey,
  findStep,
  makeStepStore,
  type ParameterBinding,
  type PositionsOf,
  type StepStore,
} from './compile-rule-set.ts';
import { bindFixFact } from '../model/facts.ts';
import type { JudgeInput } from '../judge/run.ts';
import { bindPart, traceMissing } from '../kinds/expression.ts';
import type { Binder } from '../kinds/answer.ts';
import { kindOfTest } from '../kinds/kinds.ts';
import { bindParameter, type BoundParameter, unitOfParameter } from '../model/parameter-values.ts';
import { isPlaceless, positionsOfRule } from '../model/rule-each.ts';
import { type EventDays, LOWEST_PARAMETER, type ParameterOverride, type ParameterValue } from '../model/rule-set.ts';
import { profileOf } from '../model/vehicle-fields.ts';

type Overrides = Readonly<Record<string, ParameterOverride>>;

/** Kept programs and run groups are few; a bound only keeps an odd caller from filling the memory. */
const MAX_BINDINGS = 256;
const MAX_PROGRAMS = 256;

/** The overrides a rule set knows, copied: later changes to the caller's object cannot reach what was made of them. */
function copyKnown(compiled: CompiledRuleSet, overrides: Overrides): Overrides {
  const known: Record<string, ParameterOverride> = {};
  for (const name of Object.keys(compiled.ruleSet.parameters)) {
    const override = Object.hasOwn(overrides, name) ? overrides[name] : undefined;
    if (override === undefined) continue;
    const { value, unit } = override;
    known[name] = { value: Array.isArray(value) ? [...value] : value, unit };
  }
  return known;
}

function isSame(kept: ParameterOverride, given: ParameterOverride | undefined): boolean {
  if (given === undefined || kept.unit !== given.unit) return false;
  const theirs = given.value;
  if (!Array.isArray(kept.value)) return kept.value === theirs;
  return (
    Array.isArray(theirs) &&
    kept.value.length === theirs.length &&
    kept.value.every((one, index) => one === theirs[index])
  );
}

/** Whether an object still says what it said when it was bound; unknown names do not matter. */
function isUnchanged(compiled: CompiledRuleSet, kept: Overrides, given: Overrides): boolean {
  for (const name in compiled.ruleSet.parameters) {
    const before = kept[name];
    const now = Object.hasOwn(given, name) ? given[name] : undefined;
    if (before === undefined ? now !== undefined : !isSame(before, now)) return false;
  }
  return true;
}

function findBinding(compiled: CompiledRuleSet, overrides: Overrides): ParameterBinding {
  const { byObject, byContent } = compiled.bindings;
  const known = byObject.get(overrides);
  if (known !== undefined && isUnchanged(compiled, known.overrides, overrides)) return known;
  const copy = copyKnown(compiled, overrides);
  const content = JSON.stringify(copy);
  const binding = byContent.get(content) ?? { overrides: copy, programs: new Map(), stores: new Map() };
  if (byContent.size >= MAX_BINDINGS) byContent.clear();
  byContent.set(content, binding);
  byObject.set(overrides, binding);
  return binding;
}

function findStore({ stores }: ParameterBinding, { startsOn, endsOn }: EventDays): StepStore {
  const days = `${startsOn}${endsOn}`;
  const store = stores.get(days) ?? makeStepStore();
  stores.set(days, store);
  return store;
}

/** The rules ready for a car: kept from an earlier car of its kind, or made now. */
export function findProgram(
  compiled: CompiledRuleSet,
  input: Pick<JudgeInput, 'parameters' | 'event' | 'vehicle'>,
): Program {
  const binding = findBinding(compiled, input.parameters);
  const { programs, stores } = binding;
  const { event, vehicle } = input;
  const key = `${event.startsOn}${event.endsOn}${profileOf(vehicle)}`;
  const kept = programs.get(key);
  if (kept !== undefined) return kept;
  if (programs.size >= MAX_PROGRAMS) {
    programs.clear();
    stores.clear();
  }
  const made = makeProgram(compiled, binding.overrides, event, vehicle, findStore(binding, event));
  programs.set(key, made);
  return made;
}

/** One rule at one position, ready to judge. */
export interface Step {
  head: FindingHead;
  judge: Judge;
}

/** All rules that apply to one kind of car, in rule-set order, under one run group's parameters and event days. */
export interface Program {
  judges: readonly Judge[];
  /** of what each of `judges` answers */
  heads: readonly FindingHead[];
  /** the cells that the steps read, by slot; some are read for other kinds of car only */
  cells: readonly string[];
  /** whether the lowest value of an axle or a tyre is all that this group asks of what wears */
  lowestIsEnough: boolean;
}

interface Situation {
  compiled: CompiledRuleSet;
  overrides: Readonly<Record<string, ParameterOverride>>;
  event: EventDays;
  vehicle: Vehicle;
  asked: Map<string, readonly string[] | undefined>;
  store: StepStore;
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

function positionsOn(situation: Situation): PositionsOf {
  return (key) => {
    const item = findItem(key);
    return item === undefined ? [] : (askedAt(situation, item) ?? []);
  };
}

function makeBinder(
  situation: Situation,
  { rule, each }: CompiledRule,
  position: string | undefined,
  positionsOf: PositionsOf,
): Binder {
  const { compiled, overrides, event, store } = situation;
  const parameter = (name: string) => bindParameter(compiled.ruleSet, overrides, name);
  return {
    ruleSet: compiled.ruleSet,
    rule,
    head: headOf(rule, position, bindFixFact(rule, each, position, event)),
    each,
    position,
    event,
    slots: store.slots,
    parameter,
    parameterInOwnUnit: (name) => inOwnUnit(situation, name, parameter(name)),
    expression(source) {
      const expression = compiled.expressions.get(expressionKey(source, each));
      if (expression === undefined) throw new Error('this expression does not compile');
      return expression;
    },
    positionsOf,
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

function makeStep(binder: Binder): Step {
  const { head, rule } = binder;
  try {
    const judge = kindOfTest(rule.test).bind(rule.test, binder);
    return { head, judge: rule.when === undefined ? judge : withCondition(rule.when, binder, judge) };
  } catch {
    return makeUnusable(head);
  }
}

function stepsOf(situation: Situation, compiled: CompiledRule): Step[] {
  const { rule, each } = compiled;
  const isUnusable = isPlaceless(rule);
  const positions = isUnusable ? [undefined] : positionsOfRule(rule, each, (item) => askedAt(situation, item));
  const positionsOf = positionsOn(situation);
  return positions.map((position) =>
    findStep(situation.store, compiled, position, positionsOf, (noted) => {
      const binder = makeBinder(situation, compiled, position, noted);
      return isUnusable ? makeUnusable(binder.head) : makeStep(binder);
    }),
  );
}

/**
 * Makes the rules ready for one kind of car, one run group's parameters and one event's days.
 *
 * @param store of these parameters and these days: what was made for other kinds of car
 */
export function makeProgram(
  compiled: CompiledRuleSet,
  overrides: Readonly<Record<string, ParameterOverride>>,
  event: EventDays,
  vehicle: Vehicle,
  store: StepStore,
): Program {
  const situation: Situation = { compiled, overrides, event, vehicle, asked: new Map(), store };
  const steps = compiled.rules.flatMap((rule) => stepsOf(situation, rule));
  return {
    judges: steps.map(({ judge }) => judge),
    heads: steps.map(({ head }) => head),
    cells: [...store.slots.keys()],
    lowestIsEnough: bindParameter(compiled.ruleSet, overrides, LOWEST_PARAMETER)?.value === true,
  };
}
