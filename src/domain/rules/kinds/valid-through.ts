import { addMonths, dayNumberOf, endOfYear } from '../../calendar.ts';
import { type Judge, metFinding, notMetFinding, unanswerableFinding } from '../judge/build-finding.ts';
import { quantity, reading } from '../model/finding.ts';
import { readAnswer } from '../judge/run.ts';
import type { Count, ValidThroughTest } from '../model/test-schema.ts';
import { boundAnswer, checkAnswer, nameAnswer } from './answer.ts';
import { bindSteps, checkSteps } from './counts.ts';
import type { Binder, Kind } from './kind.ts';

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

function bind(test: ValidThroughTest, binder: Binder): Judge {
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
  bind,
};
