import { convert, parseUnit, type Unit } from '../../quantity.ts';
import { kindOf } from '../model/parameter-values.ts';
import { type Binder, boundAnswer, checkAnswer, type Kind, type KindChecker, nameAnswer } from './answer.ts';
import { checkParameter } from './limit.ts';
import { addDays, addMonths, dayNumberOf, endOfYear } from '../../calendar.ts';
import { type Judge, metFinding, notMetFinding, unanswerableFinding } from '../judge/build-finding.ts';
import { quantity, reading } from '../model/finding.ts';
import { readAnswer } from '../judge/run.ts';
import type { AgeTest, Count, ValidThroughTest } from '../model/test-schema.ts';

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
function checkSteps(checker: KindChecker, path: string, name: string, allowed: readonly Unit[]): void {
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

/**
 * The earliest date that is at most so old on a day. Months are counted forward from the date, clamped to the end of
 * the month: 31 August is 6 months old on 28 February, so the earliest date can lie after the plain step back.
 */
export function earliestFor(day: string, age: Steps): string {
  if (age.unit === 'day') return addDays(day, -age.count);
  let date = addMonths(day, -age.count);
  while (addMonths(date, age.count) < day) date = addDays(date, 1);
  while (addMonths(addDays(date, -1), age.count) >= day) date = addDays(date, -1);
  return date;
}

const ageText = ({ count, unit }: Steps): string => `${count} ${unit}${count === 1 ? '' : 's'}`;

function bindAge(test: AgeTest, binder: Binder): Judge {
  const { head, event } = binder;
  const place = boundAnswer(test, binder);
  const day = test.at === 'event-start' ? event.startsOn : event.endsOn;
  const age =
    'parameter' in test.atMost
      ? bindSteps(binder, test.atMost.parameter)
      : toSteps(test.atMost.value, test.atMost.unit);
  if (age === undefined) {
    const says =
      'parameter' in test.atMost
        ? `Parameter "${test.atMost.parameter}" has no usable value`
        : 'The limit is not usable';
    return (run) => unanswerableFinding(head, run, [{ says, inspectorOnly: false }]);
  }
  const earliest = earliestFor(day, age);
  const text = `on or after ${earliest} (at most ${ageText(age)} old on ${day})`;
  const earliestDay = dayNumberOf(earliest);
  const name = nameAnswer(place.item, undefined, test.field);
  return (run) => {
    const date = readAnswer(run, place);
    if (typeof date !== 'string') return unanswerableFinding(head, run, [place], text);
    const measured = reading(date);
    if (date > event.startsOn) {
      const says = `${name}: ${date} is after the first event day, ${event.startsOn}`;
      return unanswerableFinding(head, run, [{ says, inspectorOnly: false }], text, measured);
    }
    const margin = quantity(dayNumberOf(date) - earliestDay, 'day');
    return date >= earliest
      ? metFinding(head, run, measured, text, margin)
      : notMetFinding(head, run, measured, text, margin);
  };
}

/** A date that is at most so old on the last (or first) event day; a date after the first event day has no answer. */
export const AGE: Kind<AgeTest> = {
  check(test, checker) {
    checkAnswer(test, checker, ['date']);
    if ('parameter' in test.atMost)
      checkSteps(checker, '/atMost/parameter', test.atMost.parameter, ['day', 'month', 'year']);
  },
  bind: bindAge,
};

const MONTHS_PER_YEAR = 12;

function monthsOf(binder: Binder, count: Count, each: number): number | undefined {
  if ('value' in count) return count.value * each;
  const steps = bindSteps(binder, count.parameter);
  return steps?.unit === 'month' ? steps.count : undefined;
}

/** Months to add to the stated date; `undefined` when the parameter has no usable value. */
function addedMonths(test: ValidThroughTest, binder: Binder): number | undefined {
  if (test.addMonths !== undefined) return monthsOf(binder, test.addMonths, 1);
  return test.addYears === undefined ? 0 : monthsOf(binder, test.addYears, MONTHS_PER_YEAR);
}

function bindValidThrough(test: ValidThroughTest, binder: Binder): Judge {
  const { head, event } = binder;
  const place = boundAnswer(test, binder);
  const months = addedMonths(test, binder);
  const text = `${test.inclusive ? 'valid through' : 'valid beyond'} ${event.endsOn}`;
  if (months === undefined) {
    return (run) =>
      unanswerableFinding(head, run, [{ says: 'The label rule has no usable number', inspectorOnly: false }], text);
  }
  const lastDay = dayNumberOf(event.endsOn);
  const name = nameAnswer(place.item, undefined, test.field);
  // by the test and not by the number, so that a group that moves the number makes nothing else of the date
  const isMadeOn = test.addMonths !== undefined || test.addYears !== undefined;
  return (run) => {
    const date = readAnswer(run, place);
    if (typeof date !== 'string') return unanswerableFinding(head, run, [place], text);
    if (isMadeOn && date > event.startsOn) {
      const says = `${name}: ${date} is after the first event day, ${event.startsOn}`;
      return unanswerableFinding(head, run, [{ says, inspectorOnly: false }], text, reading(date));
    }
    const moved = months === 0 ? date : addMonths(date, months);
    const end = test.endOfYear ? endOfYear(moved) : moved;
    const margin = quantity(dayNumberOf(end) - lastDay, 'day');
    const measured = reading(end === date ? date : `${date}, so valid to ${end}`);
    const isValid = test.inclusive ? end >= event.endsOn : end > event.endsOn;
    return isValid ? metFinding(head, run, measured, text, margin) : notMetFinding(head, run, measured, text, margin);
  };
}

/**
 * A stated date, moved on by the rule of the label, that reaches the last event day. One that is moved on is a date of
 * manufacture: after the first event day it has no answer.
 */
export const VALID_THROUGH: Kind<ValidThroughTest> = {
  check(test, checker) {
    checkAnswer(test, checker, ['date']);
    for (const [path, count] of [
      ['/addMonths', test.addMonths],
      ['/addYears', test.addYears],
    ] as const) {
      if (count !== undefined && 'parameter' in count)
        checkSteps(checker, `${path}/parameter`, count.parameter, ['month', 'year']);
    }
  },
  bind: bindValidThrough,
};
