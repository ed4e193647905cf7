import { findItem } from '../../catalogue/catalogue.ts';
import { type AppliesWhen, type Item, POSITION_KEYS, type PositionScheme } from '../../catalogue/item.ts';
import type { Vehicle } from '../../vehicle.ts';
import { amountText, fieldText, readingText, shortList } from './explain-binder.ts';
import { expressionText } from './explain-expression.ts';
import type { Finding, Result } from '../model/finding.ts';
import { type Binder, nameAnswer, typeOfAnswer } from '../kinds/answer.ts';
import { bindSteps, type Steps } from '../kinds/dates.ts';
import { bindLimit } from '../kinds/limit.ts';
import { decidingItems } from '../model/rule-each.ts';
import type { Rule } from '../model/rule-set.ts';
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

/** The property of the vehicle record behind each condition of an item. */
const PROPERTY: Readonly<Record<keyof AppliesWhen, readonly string[]>> = {
  body: ['body'],
  powertrain: ['powertrain'],
  oilLevelMethod: ['oilLevelMethod'],
  gearbox: ['gearbox'],
  sump: ['sump'],
  restraint: ['restraint'],
  cooling: ['cooling'],
  wheelFastening: ['wheelFastening'],
  caliper: ['caliper'],
  rotor: ['rotor'],
  brake: ['rotor'],
  bushing: ['bushing'],
  rebuildableDampers: ['damper', 'rebuildable'],
  clutchHydraulic: ['hydraulicClutch'],
  separateDifferential: ['separateDifferential'],
  fuelCell: ['fuelCell'],
};

const shown = (value: unknown): string => {
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (Array.isArray(value)) return value.join(' or ');
  if (typeof value !== 'object' || value === null) return String(value);
  // a record that was stored comes back with its names in another order
  return Object.entries(value)
    .toSorted(([a], [b]) => (a < b ? -1 : 1))
    .map(([where, one]) => `${where} ${String(one)}`)
    .join(', ');
};

function stated(vehicle: Vehicle, path: readonly string[]): unknown {
  let value: unknown = vehicle;
  for (const name of path) {
    value =
      typeof value === 'object' && value !== null ? (value as Readonly<Record<string, unknown>>)[name] : undefined;
  }
  return value;
}

function wanted(item: Item, vehicle: Vehicle): string {
  const parts = Object.entries(item.appliesWhen ?? {}).map(([name, value]) => {
    const path = PROPERTY[name as keyof AppliesWhen]; // the entries of an AppliesWhen have its keys
    const here = stated(vehicle, path);
    return `${fieldText(path)}: ${shown(value)} (this car: ${here === undefined ? 'not stated' : shown(here)})`;
  });
  const asked = `"${item.label}" is not asked of this car`;
  if (parts.length > 0) return `${asked}; it is asked where the record says ${parts.join(', ')}`;
  return item.positions === undefined ? asked : `${asked} at any of ${POSITION_KEYS[item.positions].join(', ')}`;
}

/** Why a rule has no place on a car: none of the items it judges is asked of it. */
export function whyNotAsked(rule: Rule, vehicle: Vehicle): string {
  return `${decidingItems(rule)
    .map((item) => wanted(item, vehicle))
    .join('; ')}.`;
}

/** The comparison a finding is made of, in one line; `holds` null: it could not be made. */
export interface ExplainedComparison {
  text: string;
  holds: boolean | null;
}

const isNumeric = (kind: Test['kind']): boolean =>
  kind === 'limit' || kind === 'spread' || kind === 'photo' || kind === 'expression';

/** What stands between the two sides, so that the line reads as a sentence. */
function relation(kind: Test['kind'], limit: string): string {
  if (isNumeric(kind)) return limit.replace(/^spread /u, '');
  return kind === 'range' ? `within ${limit}` : limit;
}

/** The comparison of a choice or a yes/no: its words say by themselves whether it holds. */
function choiceText(kind: Test['kind'], value: string, limit: string, holds: boolean): string | undefined {
  const list = limit.replace(/^(one|none) of: /u, '');
  if (kind === 'one-of') return `${value} is ${holds ? '' : 'not '}${shortList(limit)}`;
  if (kind === 'none-of')
    return holds ? `${value} is ${shortList(limit)}` : `${value} is among what is not accepted, ${list}`;
  return kind === 'confirm' ? `answered ${value}, ${holds ? 'as asked' : `asked for is ${limit}`}` : undefined;
}

function distanceText(finding: Finding, kind: Test['kind'], holds: boolean): string {
  const { margin, limit = '' } = finding;
  if (margin === undefined) return '';
  const amount = amountText(Math.abs(margin.value), margin.unit === '1' ? undefined : margin.unit);
  if (margin.value === 0) return holds ? ', exactly on the limit' : ', exactly on the limit, which is not enough';
  if (holds) return `, with ${amount} to spare`;
  if (kind === 'age') return `, too old by ${amount}`;
  if (kind === 'range') return `, outside by ${amount}`;
  return `, ${/[≤<]/u.test(limit) ? 'over' : 'short'} by ${amount}`;
}

/**
 * The comparison of a finding: `3.5 mm ≥ 4 mm is not so, short by 0.5 mm`.
 *
 * @param statement the test in words, for tests that compare nothing that could be shown
 * @param result of the comparison itself: what an inspector saw may have turned the finding since
 */
export function comparisonOf(
  finding: Finding,
  result: Result,
  kind: Test['kind'],
  statement: string,
): ExplainedComparison {
  if (result === 'unanswerable') {
    const wanted = finding.limit === undefined ? '' : ` to compare with ${finding.limit}`;
    return { text: `There is nothing${wanted === '' ? ' to judge' : wanted}: ${finding.message}`, holds: null };
  }
  const holds = result === 'met';
  const isSo = holds ? 'is so' : 'is not so';
  const { measured, limit } = finding;
  if (measured === undefined || limit === undefined) return { text: `${statement}: this ${isSo}`, holds };
  const choice = choiceText(kind, readingText(measured), limit, holds);
  if (choice !== undefined) return { text: choice, holds };
  const sides = `${readingText(measured)} ${relation(kind, limit)}`;
  return { text: `${sides} ${isSo}${distanceText(finding, kind, holds)}`, holds };
}

const FROM_EFFECT = {
  bar: 'The rule bars: the car may not go on track until it is met.',
  inspect: 'The line must look at it.',
  advise: 'It is advice and keeps no car off the track.',
} as const;

/** Why a finding counts what it counts: its result, the rule's effect, stage, concession and watch. */
export function countsText(finding: Finding, stage: 'declaration' | 'line'): string {
  if (finding.watched) return 'The rule is on watch: what it finds is counted and judges nobody.';
  if (finding.result === 'met') return 'It is met and counts nothing.';
  const unknown = finding.result === 'unanswerable' ? 'What is not known counts like not met. ' : '';
  if (finding.effect !== 'bar') return unknown + FROM_EFFECT[finding.effect];
  if (finding.conceded !== undefined) {
    const { expiresAt, condition } = finding.conceded;
    const asks = condition === undefined ? '' : ` It asks for: ${condition}.`;
    return `${unknown}The rule bars, but a concession covers it until ${expiresAt}: the line must look instead.${asks}`;
  }
  if (finding.counts === 'inspect' && stage === 'declaration') {
    return 'Only an inspector answers this, so the line must look; there it bars for as long as it is not known.';
  }
  return unknown + FROM_EFFECT.bar;
}
