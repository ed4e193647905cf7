import { convert, parseUnit, type Unit } from '../../quantity.ts';
import { kindOf } from '../model/parameter-values.ts';
import type { Binder, KindChecker } from './kind.ts';
import { checkParameter } from './limits.ts';

/** A number of calendar steps: days, or months (a year is twelve). */
export interface Steps {
  count: number;
  unit: 'day' | 'month';
}

/** Whole days or whole months of a number in a unit; `undefined` when it is neither. */
export function toSteps(value: unknown, unit: Unit | undefined): Steps | undefined {
  if (typeof value !== 'number' || unit === undefined) return undefined;
  if (unit === 'day') return Number.isInteger(value) && value >= 0 ? { count: value, unit } : undefined;
  const months = convert(value, unit, 'month');
  return months !== undefined && Number.isInteger(months) && months >= 0 ? { count: months, unit: 'month' } : undefined;
}

/** Notes a parameter that is not a whole number of days, months or years, as far as these are allowed. */
export function checkSteps(checker: KindChecker, path: string, name: string, allowed: readonly Unit[]): void {
  const parameter = checkParameter(checker, path, name);
  if (parameter === undefined) return;
  checker.uses.steps.add(name);
  const unit = parameter.unit === undefined ? undefined : parseUnit(parameter.unit);
  if (kindOf(parameter.value) !== 'number') {
    return checker.fault(path, 'type-clash', `parameter ${JSON.stringify(name)} is not a number`);
  }
  if (unit === undefined || !allowed.includes(unit)) {
    return checker.fault(path, 'unit-clash', `parameter ${JSON.stringify(name)} must be in ${allowed.join(' or ')}`);
  }
  if (toSteps(parameter.value, unit) === undefined) {
    checker.fault(path, 'type-clash', `parameter ${JSON.stringify(name)} must be a whole number, not negative`);
  }
}

/** The steps a parameter has in this run group. */
export function bindSteps(binder: Binder, name: string): Steps | undefined {
  const bound = binder.parameter(name);
  return toSteps(bound?.value, bound?.unit);
}
