import { findItem, itemApplies, positionsFor } from '../catalogue/catalogue.ts';
import { isNear } from '../positions.ts';
import { bindParameter } from '../rules/model/parameter-values.ts';
import {
  ALWAYS_LOOK_PARAMETER,
  type AlwaysLook,
  type ParameterOverride,
  type RuleSet,
} from '../rules/model/rule-set.ts';
import type { Vehicle } from '../vehicle.ts';
import type { CheckedPoint } from './line-judgement.ts';

/**
 * What the line looks at on this car whatever was declared: the points that the group's rules name, in their order, with
 * the items that the car has. A list that is no list leaves all points: nothing falls away by a fault.
 */
export function alwaysLook(
  { ruleSet, parameters }: { ruleSet: RuleSet; parameters: Readonly<Record<string, ParameterOverride>> },
  vehicle: Vehicle,
): AlwaysLook[] {
  const named = bindParameter(ruleSet, parameters, ALWAYS_LOOK_PARAMETER)?.value;
  const points = ruleSet.alwaysLook ?? [];
  const wanted = Array.isArray(named) ? points.filter(({ id }) => named.includes(id)) : points;
  return wanted.flatMap((point) => {
    const items = point.items.filter((key) => {
      const item = findItem(key);
      return item !== undefined && itemApplies(item, vehicle);
    });
    return items.length === 0 ? [] : [{ ...point, items }];
  });
}

/** Of the points those that nobody looked at in full: each item once for the car, or at each of its places. */
export function notLookedAt(
  points: readonly AlwaysLook[],
  checked: readonly CheckedPoint[],
  vehicle: Vehicle,
): AlwaysLook[] {
  return points.flatMap((point) => {
    const items = point.items.filter((key) => !isLookedAt(key, checked, vehicle));
    return items.length === 0 ? [] : [{ ...point, items }];
  });
}

function isLookedAt(key: string, checked: readonly CheckedPoint[], vehicle: Vehicle): boolean {
  const item = findItem(key);
  const of = checked.filter((check) => check.item === key);
  const positions = (item && positionsFor(item, vehicle)) ?? [undefined];
  return positions.every((position) => of.some((check) => isNear(check.position, position)));
}
