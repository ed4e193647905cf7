import { findItem } from '../catalogue/catalogue.ts';
import type { PositionScheme } from '../catalogue/item.ts';
import { expressionText } from './explain-expression.ts';
import { amountText, fieldText } from './explain-values.ts';
import { nameAnswer, typeOfAnswer } from './kinds/answer.ts';
import { bindSteps, type Steps } from './kinds/counts.ts';
import type { Binder } from './kinds/kind.ts';
import { bindLimit } from './kinds/limits.ts';
import type {
  AgeTest,
  Count,
  Limit,
  LimitTest,
  OneOfTest,
  RangeTest,
  SpreadTest,
  Test,
  ValidThroughTest,
} from './test-schema.ts';

type Typed = Exclude<Test, { kind: 'expression' }>;
type NumberTest = LimitTest | RangeTest | SpreadTest;

const EACH: Readonly<Record<PositionScheme, string>> = {
  wheel: 'at each wheel',
  axle: 'on each axle',
  'wheel-side': 'at each position',
  'wheel-zone': 'at each position',
  bushing: 'at each position',
  strap: 'for each strap',
  fluid: 'for each fluid',
};

/** `"Friction material thickness"`, with the part of an answer that has parts. */
function subject(test: Typed): string {
  const item = findItem(test.item);
  return item === undefined ? `"${test.item}"` : nameAnswer(item, undefined, 'field' in test ? test.field : undefined);
}

function limitText(limit: Limit, test: NumberTest, binder: Binder, difference: boolean): string {
  const item = findItem(test.item);
  const number = item && typeOfAnswer(item, test.field);
  if ('vehicle' in limit) return `the ${fieldText(limit.vehicle.split('.'))} that the vehicle record states`;
  if (number?.kind !== 'number') return 'a limit that cannot be read';
  const { fixed } = bindLimit(binder, limit, number, difference);
  return fixed === undefined
    ? 'a limit that has no usable value'
    : amountText(fixed, number.unit === '1' ? undefined : number.unit);
}

function numberText(test: NumberTest, binder: Binder): string {
  const text = (limit: Limit) => limitText(limit, test, binder, test.kind === 'spread');
  if (test.kind === 'range') return `must be between ${text(test.from)} and ${text(test.to)}, both included`;
  if (test.kind === 'spread') {
    return `must not differ by more than ${text(test.atMost)} between its largest and its smallest value`;
  }
  if (test.atLeast !== undefined) return `must be ${test.strict ? 'more than' : 'at least'} ${text(test.atLeast)}`;
  return test.atMost === undefined
    ? 'has no limit'
    : `must be ${test.strict ? 'less than' : 'at most'} ${text(test.atMost)}`;
}

function stepsText(steps: Steps | undefined): string {
  return steps === undefined ? 'a time that has no usable value' : amountText(steps.count, steps.unit);
}

function ageText({ atMost, at }: AgeTest, binder: Binder): string {
  const age =
    'parameter' in atMost ? stepsText(bindSteps(binder, atMost.parameter)) : amountText(atMost.value, atMost.unit);
  const [which, day] = at === 'event-start' ? ['first', binder.event.startsOn] : ['last', binder.event.endsOn];
  return `must be at most ${age} old on the ${which} event day, ${day}`;
}

function addedText(test: ValidThroughTest, binder: Binder): string {
  const count = (added: Count, unit: 'month' | 'year') =>
    'value' in added ? amountText(added.value, unit) : stepsText(bindSteps(binder, added.parameter));
  const moved =
    test.addMonths !== undefined
      ? `${count(test.addMonths, 'month')} after it`
      : test.addYears !== undefined
        ? `${count(test.addYears, 'year')} after it`
        : undefined;
  if (test.endOfYear) return `, counted to 31 December of ${moved === undefined ? 'its year' : `the year ${moved}`}`;
  return moved === undefined ? '' : `, counted to ${moved}`;
}

function listText(test: OneOfTest, binder: Binder): string {
  const values = Array.isArray(test.values) ? test.values : binder.parameter(test.values.parameter)?.value;
  const list = Array.isArray(values) ? values.join(', ') : 'a list that has no usable value';
  return `must be ${test.kind === 'none-of' ? 'none' : 'one'} of: ${list}`;
}

function demand(test: Typed, binder: Binder): string {
  switch (test.kind) {
    case 'limit':
    case 'range':
    case 'spread':
      return numberText(test, binder);
    case 'one-of':
    case 'none-of':
      return listText(test, binder);
    case 'confirm':
      return test.expect === false ? 'must be answered no' : 'must be answered yes';
    case 'age':
      return ageText(test, binder);
    case 'valid-through': {
      const reach = test.inclusive ? 'must reach' : 'must reach beyond';
      return `${reach} the last event day, ${binder.event.endsOn}${addedText(test, binder)}`;
    }
    case 'photo':
      return `must be shown by at least ${test.atLeast} photo${test.atLeast === 1 ? '' : 's'}`;
  }
}

/** What a test asks for in plain words, with the limits that hold in this run group; it ends without a full stop. */
export function testText(test: Test, binder: Binder): string {
  const each = binder.each === undefined ? '' : ` ${EACH[binder.each]}`;
  if (test.kind === 'one-of' || test.kind === 'none-of') {
    return `${subject(test)}${each === '' ? '' : `,${each},`} ${demand(test, binder)}`;
  }
  if (test.kind !== 'expression') return `${subject(test)} ${demand(test, binder)}${each}`;
  return `This must be so${each}: ${expressionText(test.expr, binder)}`;
}
