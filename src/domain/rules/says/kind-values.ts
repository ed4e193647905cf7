import { addDays, endOfYear } from '../../calendar.ts';
import { findItem } from '../../catalogue/catalogue.ts';
import { optionName } from '../../catalogue/texts.ts';
import type { Item, SimpleAnswerType } from '../../catalogue/item.ts';
import type { Run } from '../judge/run.ts';
import { bindSteps, earliestFor, type Steps, toSteps } from '../kinds/dates.ts';
import { type Binder, typeOfAnswer } from '../kinds/answer.ts';
import { bindPart } from '../kinds/expression.ts';
import { bindLimit } from '../kinds/limit.ts';
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
} from '../model/test-schema.ts';
import type { SaysValue } from './sentence.ts';

/** What a test has to say of itself: which sentence of its kind fits, and what stands in it. */
export interface KindSays {
  /** key of the sentence among the texts of the kinds; absent: none can be made */
  key?: string;
  /** what a sentence may name; `undefined` where it is not known */
  values: Readonly<Record<string, SaysValue | undefined>>;
}

/** What the values are made with. */
interface Made {
  binder: Binder;
  run: Run;
  language: string;
  /** joins the words of a list */
  join(words: readonly string[]): string;
}

type Inside = 'above' | 'below' | undefined;

/** Longer lists are not read out: whoever answers finds his own in the list of the field. */
const MOST_LISTED = 3;
const MONTHS_PER_YEAR = 12;

function numberValue(
  limit: Limit,
  test: LimitTest | RangeTest | SpreadTest,
  { binder, run }: Made,
  inside: Inside,
): SaysValue | undefined {
  const item = findItem(test.item);
  const number = item && typeOfAnswer(item, test.field);
  if (number?.kind !== 'number') return undefined;
  const difference = test.kind === 'spread';
  const bound = bindLimit(binder, limit, number, difference);
  const value = bound.fixed ?? bound.value(run);
  if (value === undefined) return undefined;
  return { value, unit: number.unit, decimals: number.decimals, inside, ...(difference && { difference }) };
}

function limitSays(test: LimitTest, made: Made): KindSays {
  const { atLeast, atMost, strict } = test;
  if (atLeast !== undefined) {
    const key = strict ? 'limit.moreThan' : 'limit.atLeast';
    return { key, values: { limit: numberValue(atLeast, test, made, 'above') } };
  }
  const key = strict ? 'limit.lessThan' : 'limit.atMost';
  return { key, values: { limit: atMost && numberValue(atMost, test, made, 'below') } };
}

function rangeSays(test: RangeTest, made: Made): KindSays {
  const from = numberValue(test.from, test, made, 'above');
  return { key: 'range', values: { from, to: numberValue(test.to, test, made, 'below') } };
}

const named = (item: Item, field: string | undefined, options: readonly string[], language: string): string[] =>
  options.map((option) => optionName(item, field, option, language));

const optionsOf = (type: SimpleAnswerType | undefined): readonly string[] =>
  type?.kind === 'choice' || type?.kind === 'choices' ? type.options : [];

function listSays(test: OneOfTest, { binder, language, join }: Made): KindSays {
  const item = findItem(test.item);
  const bound = Array.isArray(test.values) ? test.values : binder.parameter(test.values.parameter)?.value;
  if (item === undefined || !Array.isArray(bound)) return { values: { list: undefined } };
  const type = typeOfAnswer(item, test.field);
  const options = optionsOf(type);
  const words = (some: readonly string[]): SaysValue => ({ text: join(named(item, test.field, some, language)) });
  const others = options.filter((option) => !bound.includes(option));
  const few = test.kind === 'one-of' ? bound.length : others.length;
  const [first] = named(item, test.field, bound, language);
  return {
    key: `${test.kind}.${few > 0 && few <= MOST_LISTED ? 'few' : 'many'}`,
    values: {
      list: words(bound),
      others: words(others),
      first: first === undefined ? undefined : { text: first },
    },
  };
}

function ageSays({ atMost, at }: AgeTest, { binder }: Made): KindSays {
  const { event } = binder;
  const age = 'parameter' in atMost ? bindSteps(binder, atMost.parameter) : toSteps(atMost.value, atMost.unit);
  const on = at === 'event-start' ? event.startsOn : event.endsOn;
  return {
    key: 'age',
    values: {
      day: age && { day: earliestFor(on, age) },
      age: age && { value: age.count, unit: age.unit },
    },
  };
}

function monthsOf(binder: Binder, count: Count | undefined, each: number): number | undefined {
  if (count === undefined) return 0;
  if ('value' in count) return count.value * each;
  const steps = bindSteps(binder, count.parameter);
  return steps?.unit === 'month' ? steps.count : undefined;
}

/** The earliest date on the label that reaches the last event day. */
function earliestOnLabel(test: ValidThroughTest, binder: Binder): string | undefined {
  const months =
    test.addMonths === undefined
      ? monthsOf(binder, test.addYears, MONTHS_PER_YEAR)
      : monthsOf(binder, test.addMonths, 1);
  if (months === undefined) return undefined;
  const reached = test.inclusive ? binder.event.endsOn : addDays(binder.event.endsOn, 1);
  const day = test.endOfYear ? `${endOfYear(reached).slice(0, 4)}-01-01` : reached;
  const back: Steps = { count: months, unit: 'month' };
  return months === 0 ? day : earliestFor(day, back);
}

const OPERATORS = { '<': 'lessThan', '<=': 'atMost', '>': 'moreThan', '>=': 'atLeast', '==': 'exactly' } as const;

/** A comparison shows what it compares with; any other expression has no sentence of its own. */
function expressionSays(source: string, { binder, run }: Made): KindSays {
  const { compared } = binder.expression(source);
  if (compared === undefined) return { values: {} };
  const { operator, unit, decimals } = compared;
  const value = bindPart(compared.limit, binder)(run);
  const inside: Inside = operator === '>' || operator === '>=' ? 'above' : operator === '==' ? undefined : 'below';
  const limit = typeof value === 'number' ? { value, unit, decimals, inside } : undefined;
  return { key: `limit.${OPERATORS[operator]}`, values: { limit } };
}

/** What a test says of itself at one position, with the limits that hold there. */
export function kindSays(test: Test, made: Made): KindSays {
  switch (test.kind) {
    case 'limit':
      return limitSays(test, made);
    case 'range':
      return rangeSays(test, made);
    case 'spread':
      return { key: 'spread', values: { limit: numberValue(test.atMost, test, made, 'below') } };
    case 'one-of':
    case 'none-of':
      return listSays(test, made);
    case 'confirm':
      return { key: test.expect === false ? 'confirm.no' : 'confirm.yes', values: {} };
    case 'age':
      return ageSays(test, made);
    case 'valid-through': {
      const day = earliestOnLabel(test, made.binder);
      return { key: 'valid-through', values: { day: day === undefined ? undefined : { day } } };
    }
    case 'photo':
      return {
        key: test.atLeast === 1 ? 'photo.one' : 'photo.more',
        values: { count: { value: test.atLeast, unit: '1' } },
      };
    case 'expression':
      return expressionSays(test.expr, made);
  }
}

/** The names that a sentence of a rule with this test may use besides `label` and `title`. */
export const KIND_VALUES: Readonly<Record<Test['kind'], readonly string[]>> = {
  limit: ['limit'],
  range: ['from', 'to'],
  spread: ['limit'],
  'one-of': ['list', 'others', 'first'],
  'none-of': ['list', 'others', 'first'],
  confirm: [],
  age: ['day', 'age'],
  'valid-through': ['day'],
  photo: ['count'],
  expression: ['limit'],
};
