import type { CompiledRuleSet, ParameterBinding } from './compile-rule-set.ts';
import type { JudgeInput } from './judge-input.ts';
import { makeProgram, type Program } from './program.ts';
import type { EventDays, ParameterOverride } from './rule-set.ts';
import { makeStepStore, type StepStore } from './step-store.ts';
import { profileOf } from './vehicle-fields.ts';

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
export function findProgram(compiled: CompiledRuleSet, input: JudgeInput): Program {
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
