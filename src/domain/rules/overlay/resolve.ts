import { checkAlwaysLook, checkRule } from '../check/check-rule.ts';
import { jsonPointer } from '../../json-pointer.ts';
import { convert, dimensionOf, parseUnit, type Unit } from '../../quantity.ts';
import { checkOverridesWith } from '../check/check-parameters.ts';
import { checkCategories, checkWholeRule } from '../check/check.ts';
import { newBudget } from '../check/never.ts';
import { unitOfParameter } from '../model/parameter-values.ts';
import { eachOf } from '../model/rule-each.ts';
import { compileRuleExpression, noUses, type Uses } from '../model/rule-scope.ts';
import type { RuleFault, RuleFaultCode } from '../model/rule-fault.ts';
import type { Parameter, ParameterOverride, Rule, RuleSet } from '../model/rule-set.ts';
import {
  type EffectChange,
  findLoosenedEffect,
  findLoosenedParameters,
  type Origins,
  type Overlay,
  type RuleOrigin,
} from './overlay.ts';

type From = 'venue' | 'run-group';

/** What a venue or a run group changes. */
export interface RuleLayer {
  from: From;
  overlay: Overlay;
}

/** A fault of a layer; the pointer is into its overlay: `/parameters/padMinimum/unit`. */
export type LayerFault = RuleFault & { from: From };

export type ResolvedRules = { ok: true; ruleSet: RuleSet; origins: Origins } | { ok: false; faults: LayerFault[] };

/** As many as a rule set may have. */
const MAX_RULES = 2000;

/** What the layers so far have made of the rule set. */
interface Resolving {
  base: RuleSet;
  overrides: Overrides;
  rules: readonly Rule[];
  parameterOrigins: Map<string, From>;
  ruleOrigins: Map<string, RuleOrigin>;
}

type Note = (path: readonly PropertyKey[], code: RuleFaultCode, detail: string) => void;

function usesOf(rules: readonly Rule[], ruleSet: RuleSet): Uses {
  const uses = noUses();
  for (const rule of rules) checkRule(rule, ruleSet, '', uses);
  checkAlwaysLook(ruleSet, uses);
  return uses;
}

/** The overrides of a layer that are in order and loosen no floor; the faults of the others are noted. */
function takeOverrides(state: Resolving, overlay: Overlay, faults: RuleFault[], note: Note): Overrides {
  const { base, rules, overrides: earlier } = state;
  const wanted = Object.entries(overlay.parameters);
  if (wanted.length === 0) return earlier;
  // rules the layer adds are among those that a value must suit
  const uses = usesOf([...rules, ...overlay.rules], base);
  const sound = wanted.filter(([name, override]) => {
    const found = checkOverridesWith(base, { [name]: override }, uses);
    for (const fault of found) faults.push({ ...fault, pointer: `/parameters${fault.pointer}` });
    if (found.length > 0) return false;
    const isClear = !isAmbiguous(base, name, override, [...rules, ...overlay.rules]);
    if (!isClear) note(['parameters', name, 'unit'], 'unit-clash', AMBIGUOUS + (base.parameters[name]?.unit ?? ''));
    return isClear;
  });
  const loose = noteLoosened(state, new Map([...earlier, ...sound]), note);
  return new Map([...earlier, ...sound.filter(([name]) => !loose.has(name))]);
}

const AMBIGUOUS = 'the rules use it both as a temperature and as a difference of temperatures: give it in ';

function noteLoosened(state: Resolving, wanted: Overrides, note: Note): Set<string> {
  const { base, rules, overrides } = state;
  const loose = new Set<string>();
  const floors = rules.filter((rule) => rule.floor === true);
  if (floors.length === 0) return loose;
  const before = bakeOverrides(base, overrides, rules);
  const after = bakeOverrides(base, wanted, rules);
  for (const rule of floors) {
    for (const { what, detail } of findLoosenedParameters(rule, before, after)) {
      note(['parameters', what], 'floor-loosened', detail);
      loose.add(what);
    }
  }
  return loose;
}

function withChange(rule: Rule, change: EffectChange): Rule {
  const { watch, ...rest } = rule;
  const isWatched = change.watch ?? watch === true;
  return { ...rest, effect: change.effect ?? rule.effect, ...(isWatched && { watch: true as const }) };
}

function noteChange(state: Resolving, rule: Rule, change: EffectChange, from: From): void {
  const earlier = state.ruleOrigins.get(rule.id) ?? { from: 'rule-set' };
  const was = earlier.changed?.was ?? { effect: rule.effect, watch: rule.watch === true };
  state.ruleOrigins.set(rule.id, { ...earlier, changed: { by: from, reason: change.reason, was } });
}

/** The rules so far with their effects changed; a change of no rule, or one that loosens a floor, is noted. */
function takeEffects(state: Resolving, { from, overlay }: RuleLayer, note: Note): readonly Rule[] {
  const wanted = new Map(Object.entries(overlay.effects));
  const rules = state.rules.map((rule) => {
    const change = wanted.get(rule.id);
    if (change === undefined) return rule;
    wanted.delete(rule.id);
    const loosened = rule.floor === true ? findLoosenedEffect(rule, change) : [];
    for (const { what, detail } of loosened) note(['effects', rule.id, what], 'floor-loosened', detail);
    if (loosened.length > 0) return rule;
    noteChange(state, rule, change, from);
    return withChange(rule, change);
  });
  for (const id of wanted.keys()) {
    note(['effects', id], 'unknown-rule', `there is no rule ${JSON.stringify(id)} to change`);
  }
  return rules;
}

const OWNERS = { 'rule-set': 'the rule set', venue: 'the venue', 'run-group': 'the run group' } as const;

/** The rules so far and those a layer adds; an id that is taken is noted and its rule left out. */
function addRules(state: Resolving, { from, overlay }: RuleLayer, rules: readonly Rule[], note: Note): readonly Rule[] {
  const taken = new Set(rules.map(({ id }) => id));
  const added = overlay.rules.filter(({ id }, at) => {
    if (taken.has(id)) {
      const owner = OWNERS[state.ruleOrigins.get(id)?.from ?? 'rule-set'];
      note(['rules', at, 'id'], 'duplicate-id', `${owner} has a rule ${JSON.stringify(id)} already`);
      return false;
    }
    taken.add(id);
    state.ruleOrigins.set(id, { from });
    return true;
  });
  if (rules.length + added.length > MAX_RULES) {
    note(['rules'], 'bad-shape', `with these there are more than ${MAX_RULES} rules`);
  }
  return [...rules, ...added];
}

/** A temperature of an earlier layer that only the rules added now make ambiguous. */
function noteAmbiguous(state: Resolving, overrides: Overrides, rules: readonly Rule[], note: Note): void {
  for (const [name, override] of state.overrides) {
    const isReplaced = overrides.get(name) !== override;
    if (isReplaced || !isAmbiguous(state.base, name, override, rules)) continue;
    const detail = `${name} is in ${override.unit ?? ''} here; with these ${AMBIGUOUS}${state.base.parameters[name]?.unit ?? ''}`;
    note(['rules'], 'unit-clash', detail);
  }
}

/** The faults of the rules a layer adds, as rules of the whole they are added to. */
function checkAdded(overlay: Overlay, whole: RuleSet): RuleFault[] {
  const added = overlay.rules.map((value, at) => ({ at, value }));
  const budget = newBudget();
  const faults = added.flatMap(({ at, value }) => checkWholeRule(value, whole, `/rules/${at}`, noUses(), budget));
  const categories = checkCategories({ ruleSet: whole, rules: added, examples: [], faults: [] });
  return [...faults, ...categories.filter(({ code }) => code === 'unknown-category')];
}

function applyLayer(state: Resolving, layer: RuleLayer): LayerFault[] {
  const { from, overlay } = layer;
  const faults: RuleFault[] = [];
  const note: Note = (path, code, detail) => faults.push({ pointer: jsonPointer(path), code, detail });
  const overrides = takeOverrides(state, overlay, faults, note);
  for (const [name, override] of overrides) {
    if (overlay.parameters[name] === override) state.parameterOrigins.set(name, from);
  }
  const rules = addRules(state, layer, takeEffects(state, layer, note), note);
  if (overlay.rules.length > 0) {
    faults.push(...checkAdded(overlay, bakeOverrides(state.base, overrides, rules)));
    noteAmbiguous(state, overrides, rules, note);
  }
  state.overrides = overrides;
  state.rules = rules;
  return faults.map((fault) => ({ ...fault, from }));
}

function wasOf(base: RuleSet, name: string): { value: ParameterOverride['value']; unit?: string } {
  const { value, unit } = base.parameters[name] ?? { value: '' };
  return unit === undefined ? { value } : { value, unit };
}

/** In the order of the resolved rules, so that the same rules read the same. */
function originsOf({ base, rules, parameterOrigins, ruleOrigins }: Resolving): Origins {
  const parameters = Object.keys(base.parameters).flatMap((name) => {
    const from = parameterOrigins.get(name);
    return from === undefined ? [] : [[name, { from, was: wasOf(base, name) }] as const];
  });
  const changed = rules.flatMap(({ id }) => {
    const origin = ruleOrigins.get(id);
    return origin === undefined ? [] : [[id, origin] as const];
  });
  return { parameters: Object.fromEntries(parameters), rules: Object.fromEntries(changed) };
}

/**
 * Puts together what judges: a rule set, then what a venue changes in it, then what a run group changes. Later layers
 * win. The result is a whole rule set: overrides are its parameters' values, effects and watch are as changed, added
 * rules stand behind those of the layers before, in layer order; examples are about the rule set alone and left out.
 *
 * A rule marked `floor`, of the rule set or added by an earlier layer, is not loosened against what it is when the
 * layer comes: a run group does not loosen what its venue tightened. A change that cannot be told to be tighter counts
 * as looser.
 *
 * @param base a rule set that is in order (`checkRuleSet`)
 * @returns the rules and where each value came from, or every fault with its layer and its place in that overlay
 * @throws never
 */
export function resolveRules(base: RuleSet, layers: readonly RuleLayer[]): ResolvedRules {
  const state: Resolving = {
    base,
    overrides: new Map(),
    rules: base.rules,
    parameterOrigins: new Map(),
    ruleOrigins: new Map(),
  };
  const faults = layers.flatMap((layer) => applyLayer(state, layer));
  if (faults.length > 0) return { ok: false, faults };
  return { ok: true, ruleSet: bakeOverrides(base, state.overrides, state.rules), origins: originsOf(state) };
}

type Overrides = ReadonlyMap<string, ParameterOverride>;

/** Whether an override is in another unit than the rule set has the parameter in. */
function isInOtherUnit(own: Unit | undefined, override: ParameterOverride): boolean {
  return override.unit !== undefined && parseUnit(override.unit) !== own;
}

/** The parameters that expressions of these rules read, tests and conditions. */
function readByExpressions(ruleSet: RuleSet, rules: readonly Rule[]): ReadonlySet<string> {
  const uses = noUses();
  for (const rule of rules) {
    const sources = [rule.when, rule.test.kind === 'expression' ? rule.test.expr : undefined];
    for (const source of sources) {
      if (source !== undefined) compileRuleExpression(source, ruleSet, eachOf(rule), uses);
    }
  }
  return uses.parameters;
}

function inOwnUnit(declared: Parameter, override: ParameterOverride): number | undefined {
  const from = unitOfParameter(override);
  const own = unitOfParameter(declared);
  if (from === undefined || own === undefined || typeof override.value !== 'number') return undefined;
  return convert(override.value, from, own);
}

/** The value and unit of an override in a parameter; what it means and where it was from stays. */
function bakeIn(declared: Parameter, override: ParameterOverride, isRead: () => boolean): Parameter {
  const { value, unit } = override;
  if (isInOtherUnit(unitOfParameter(declared), override) && isRead()) {
    const converted = inOwnUnit(declared, override);
    // what does not convert stays as it is written: the check has refused it, and the evaluator has no answer on it
    if (converted !== undefined) return { ...declared, value: converted };
  }
  return unit === undefined ? { ...declared, value } : { ...declared, value, unit };
}

/**
 * The rule set with overrides as its parameters' values, and these rules. A value stays in the unit it is written in,
 * except where an expression reads it: the unit of a parameter is part of what an expression means, so there it is
 * converted to the rule set's own. Examples are about the rule set as it was and are left out.
 */
function bakeOverrides(base: RuleSet, overrides: Overrides, rules: readonly Rule[]): RuleSet {
  let read: ReadonlySet<string> | undefined;
  const isRead = (name: string): boolean => {
    read ??= readByExpressions(base, rules);
    return read.has(name);
  };
  const parameters = Object.entries(base.parameters).map(([name, declared]): [string, Parameter] => {
    const override = overrides.get(name);
    return [name, override === undefined ? declared : bakeIn(declared, override, () => isRead(name))];
  });
  return { ...base, parameters: Object.fromEntries(parameters), rules: [...rules], examples: [] };
}

/**
 * Whether an override cannot be given in this unit: a temperature that an expression reads as a point of the scale
 * and a spread as a difference is two numbers in any unit but its own (9 °F is a spread of 5 °C, and -12.8 °C).
 */
function isAmbiguous(base: RuleSet, name: string, override: ParameterOverride, rules: readonly Rule[]): boolean {
  const declared = base.parameters[name];
  const own = declared && unitOfParameter(declared);
  if (own === undefined || dimensionOf(own) !== 'temperature' || !isInOtherUnit(own, override)) return false;
  const isSpread = rules.some(
    ({ test }) => test.kind === 'spread' && 'parameter' in test.atMost && test.atMost.parameter === name,
  );
  return isSpread && readByExpressions(base, rules).has(name);
}
