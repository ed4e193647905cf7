import { changedFacts } from '../../car/car-facts.ts';
import { findItem, itemApplies, positionsFor } from '../../catalogue/catalogue.ts';
import type { Vehicle } from '../../vehicle.ts';
import { type CompiledRuleSet, factsRead } from './evaluate.ts';
import type { JudgeInput } from '../model/judge-input.ts';

/**
 * Whether a judgement would be another one, or rest on something else, had the car been what it is now: a rule read a fact
 * that changed, or is asked at other places. What no rule of the group looks at changes nothing.
 *
 * @param input as it was judged
 * @param now the car as its record is now
 */
export function usesChange(compiled: CompiledRuleSet, input: JudgeInput, now: Vehicle): boolean {
  const changed = changedFacts(input.vehicle, now);
  if (changed.length === 0) return false;
  const asksElsewhere = compiled.ruleSet.rules.some(({ items }) =>
    items.some((key) => placesOf(key, input.vehicle) !== placesOf(key, now)),
  );
  if (asksElsewhere) return true;
  return [input.vehicle, now].some((vehicle) => factsRead(compiled, { ...input, vehicle }, changed).size > 0);
}

function placesOf(key: string, vehicle: Vehicle): string {
  const item = findItem(key);
  if (item === undefined || !itemApplies(item, vehicle)) return '-';
  return positionsFor(item, vehicle)?.join() ?? '+';
}
