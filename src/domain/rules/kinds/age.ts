import { addDays, addMonths, dayNumberOf } from '../../calendar.ts';
import { type Judge, metFinding, notMetFinding, unanswerableFinding } from '../judge/build-finding.ts';
import { quantity, reading } from '../model/finding.ts';
import { readAnswer } from '../judge/run.ts';
import type { AgeTest } from '../model/test-schema.ts';
import { boundAnswer, checkAnswer, nameAnswer } from './answer.ts';
import { bindSteps, checkSteps, type Steps, toSteps } from './counts.ts';
import type { Binder, Kind } from './kind.ts';

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

function bind(test: AgeTest, binder: Binder): Judge {
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
  bind,
};
