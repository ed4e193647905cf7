import {
  convert,
  convertDifference,
  dimensionOf,
  formatQuantity,
  parseUnit,
  roundTo,
  type Unit,
} from '../../quantity.ts';
import { kindOf, unitOfParameter } from '../model/parameter-values.ts';
import { enclosing, relate } from '../model/rule-each.ts';
import { type Missing, readAnswer, type Run } from '../judge/run.ts';
import type { Limit, LimitTest, RangeTest } from '../model/test-schema.ts';
import { findVehicleField, readVehicle } from '../model/vehicle-fields.ts';
import {
  type AnswerOf,
  type Binder,
  boundAnswer,
  checkAnswer,
  type Kind,
  type KindChecker,
  typeOfAnswer,
} from './answer.ts';
import { type Judge, unanswerableFinding } from '../judge/build-finding.ts';
import { numberJudge } from '../judge/reliability.ts';

type NumberType = Pick<AnswerOf<'number'>, 'unit' | 'decimals'>;

/** A limit in the unit of the item, rounded as the item is. `value` is `undefined` where the record lacks it. */
export interface BoundLimit {
  value(run: Run): number | undefined;
  /** the value, where it does not depend on the car's record */
  fixed: number | undefined;
  /** names what is missing when there is no value */
  says: string;
  /** it is a value of the car's record: the path of that fact */
  fact?: string;
}

/** What is missing where a limit has no value. */
export const lacking = ({ says, fact }: BoundLimit): Missing => ({
  says,
  inspectorOnly: false,
  ...(fact !== undefined && { ofRecord: true, fact }),
});

function checkUnit(checker: KindChecker, path: string, text: string, number: NumberType): void {
  const unit = parseUnit(text);
  if (unit === undefined) return checker.fault(path, 'unknown-unit', `${JSON.stringify(text)} is not a known unit`);
  if (dimensionOf(unit) === dimensionOf(number.unit)) return;
  checker.fault(path, 'unit-clash', `${unit} does not convert to ${number.unit}, the unit of the item`);
}

function checkVehicleLimit(checker: KindChecker, path: string, name: string, number: NumberType): void {
  const field = findVehicleField(name);
  if (field === undefined)
    return checker.fault(path, 'unknown-name', `the vehicle record has no ${JSON.stringify(name)}`);
  if (field.type.kind !== 'number') return checker.fault(path, 'type-clash', `${JSON.stringify(name)} is not a number`);
  checkUnit(checker, path, field.type.unit, number);
  const relation = field.scheme && checker.each && relate(field.scheme, checker.each);
  if (field.scheme === undefined || relation === 'same' || relation === 'coarser') return;
  checker.fault(
    path,
    'each-mismatch',
    `${JSON.stringify(name)} is stated per ${field.scheme}, the rule does not run over it`,
  );
}

/** Notes what is wrong with a limit for a number in this unit. */
export function checkLimit(checker: KindChecker, path: string, limit: Limit, number: NumberType): void {
  if ('vehicle' in limit) return checkVehicleLimit(checker, `${path}/vehicle`, limit.vehicle, number);
  if ('value' in limit) {
    if (limit.unit !== undefined) checkUnit(checker, `${path}/unit`, limit.unit, number);
    return;
  }
  const parameter = checkParameter(checker, `${path}/parameter`, limit.parameter);
  if (parameter === undefined) return;
  if (kindOf(parameter.value) !== 'number') {
    return checker.fault(
      `${path}/parameter`,
      'type-clash',
      `parameter ${JSON.stringify(limit.parameter)} is not a number`,
    );
  }
  checkUnit(checker, `${path}/parameter`, parameter.unit ?? '1', number);
}

/** The parameter of a name; notes a fault when there is none. */
export function checkParameter(checker: KindChecker, path: string, name: string) {
  const parameter = Object.hasOwn(checker.ruleSet.parameters, name) ? checker.ruleSet.parameters[name] : undefined;
  if (parameter === undefined)
    checker.fault(path, 'unknown-parameter', `there is no parameter ${JSON.stringify(name)}`);
  else checker.uses.parameters.add(name);
  return parameter;
}

const fixedLimit = (value: number | undefined, says: string): BoundLimit => ({
  value: () => value,
  fixed: value,
  says,
});

function vehicleLimit(binder: Binder, name: string, number: NumberType): BoundLimit {
  const field = findVehicleField(name);
  if (field?.type.kind !== 'number') return fixedLimit(undefined, `The vehicle record has no ${name}`);
  const { each, position } = binder;
  const at = field.scheme && each && position !== undefined ? enclosing(position, each, field.scheme) : undefined;
  const path = at === undefined ? field.path : [...field.path, at];
  const { unit } = field.type;
  const value = (run: Run): number | undefined => {
    const stated = readVehicle(run.vehicle, path);
    const converted = typeof stated === 'number' ? convert(stated, unit, number.unit) : undefined;
    return converted === undefined ? undefined : roundFast(converted, number.decimals);
  };
  const fact = path.join('.');
  return { value, fixed: undefined, says: `The vehicle record has no ${fact}`, fact };
}

/**
 * Makes a limit ready to compare with a number of this unit and these decimals: converted, then rounded like the
 * item, so that the limit judged is the limit shown (2/32 in against an item in tenths of a millimetre is 1.6 mm).
 *
 * @param difference the limit is a difference (a spread): 5 °C are 9 °F, not 41 °F
 */
export function bindLimit(binder: Binder, limit: Limit, number: NumberType, difference = false): BoundLimit {
  if ('vehicle' in limit) return vehicleLimit(binder, limit.vehicle, number);
  const bound =
    'value' in limit ? { value: limit.value, unit: unitOf(limit, number.unit) } : binder.parameter(limit.parameter);
  const says =
    'value' in limit
      ? 'The limit of this rule has no usable unit'
      : `Parameter "${limit.parameter}" has no usable value`;
  if (bound?.unit === undefined || typeof bound.value !== 'number') return fixedLimit(undefined, says);
  const converted = (difference ? convertDifference : convert)(bound.value, bound.unit, number.unit);
  return fixedLimit(converted === undefined ? undefined : roundTo(converted, number.decimals), says);
}

const unitOf = (limit: { unit?: string | undefined }, unit: Unit): Unit | undefined =>
  limit.unit === undefined ? unit : unitOfParameter(limit);

/** `roundTo`, without its cost for a number that has no more decimals than these. */
export function roundFast(value: number, decimals: number): number {
  const scale = 10 ** decimals;
  return Math.round(value * scale) / scale === value ? value : roundTo(value, decimals);
}

/** Powers of ten for the decimals items are kept with; raising one each time is slow. */
const SCALES: readonly number[] = Array.from({ length: 16 }, (_, decimals) => 10 ** decimals);

/** The distance between two numbers of the same decimals, without the noise of subtracting. */
export function distance(from: number, to: number, decimals: number): number {
  const scale = SCALES[decimals] ?? 10 ** decimals;
  return Math.round((to - from) * scale) / scale + 0;
}

/** `≥ 5 mm`; keeps the last text, because most limits are the same for car after car and writing them is slow. */
export function keepText(prefix: string, unit: Unit): (value: number) => string {
  let last: number | undefined;
  let text = '';
  return (value) => {
    if (value !== last) {
      last = value;
      text = prefix + formatQuantity(value, unit);
    }
    return text;
  };
}

function bindRange(test: RangeTest, binder: Binder): Judge {
  const { head } = binder;
  const place = boundAnswer(test, binder);
  // the check has refused items that are not answered by a number
  const number = typeOfAnswer(place.item, test.field) as AnswerOf<'number'>;
  const { unit, decimals } = number;
  const low = bindLimit(binder, test.from, number);
  const high = bindLimit(binder, test.to, number);
  const lowText = keepText('', unit);
  const highText = keepText(' to ', unit);
  const judge = numberJudge(head, number, binder.rule.decision ?? 'simple', place);
  let text = '';
  let lastFrom: number | undefined;
  let lastTo: number | undefined;
  return (run) => {
    const value = readAnswer(run, place);
    const from = low.fixed ?? low.value(run);
    const to = high.fixed ?? high.value(run);
    if (typeof value !== 'number' || from === undefined || to === undefined) {
      const missing = [low, high].filter((limit) => limit.fixed === undefined && limit.value(run) === undefined);
      const says = missing.map(lacking);
      return unanswerableFinding(head, run, [...(typeof value === 'number' ? [] : [place]), ...says]);
    }
    if (from !== lastFrom || to !== lastTo) {
      text = lowText(from) + highText(to);
      [lastFrom, lastTo] = [from, to];
    }
    const margin = Math.min(distance(from, value, decimals), distance(value, to, decimals));
    const isMet = value >= from && value <= to;
    return judge(run, value, isMet, margin, text, from, to);
  };
}

/** A number between two limits, both included. */
export const RANGE: Kind<RangeTest> = {
  check(test, checker) {
    const number = checkAnswer(test, checker, ['number']);
    if (number === undefined) return;
    checkLimit(checker, '/from', test.from, number);
    checkLimit(checker, '/to', test.to, number);
  },
  bind: bindRange,
};

function bindOneLimit(test: LimitTest, binder: Binder): Judge {
  const { head } = binder;
  const place = boundAnswer(test, binder);
  // the check has refused items that are not answered by a number
  const number = typeOfAnswer(place.item, test.field) as AnswerOf<'number'>;
  const { unit, decimals } = number;
  const atLeast = test.atLeast !== undefined;
  const asked = test.atLeast ?? test.atMost;
  if (asked === undefined) throw new Error('a limit without a limit');
  const limit = bindLimit(binder, asked, number);
  const sign = atLeast ? (test.strict ? '>' : '≥') : test.strict ? '<' : '≤';
  const strict = test.strict === true;
  const judge = numberJudge(head, number, binder.rule.decision ?? 'simple', place);
  const textOf = keepText(`${sign} `, unit);
  const fixedText = limit.fixed === undefined ? undefined : textOf(limit.fixed);
  return (run) => {
    const value = readAnswer(run, place);
    const bound = limit.fixed ?? limit.value(run);
    if (typeof value !== 'number' || bound === undefined) {
      const missing = typeof value === 'number' ? [] : [place];
      const says = bound === undefined ? [lacking(limit)] : [];
      return unanswerableFinding(head, run, [...missing, ...says], fixedText);
    }
    const text = fixedText ?? textOf(bound);
    const margin = atLeast ? distance(bound, value, decimals) : distance(value, bound, decimals);
    // the sign of a difference is exact, and as a number it is not called through a table
    const inside = atLeast ? value - bound : bound - value;
    const isMet = strict ? inside > 0 : inside >= 0;
    return judge(run, value, isMet, margin, text, atLeast ? bound : undefined, atLeast ? undefined : bound);
  };
}

/** A number at least, at most, more than or less than a limit. */
export const LIMIT: Kind<LimitTest> = {
  check(test, checker) {
    const number = checkAnswer(test, checker, ['number']);
    const path = test.atLeast === undefined ? '/atMost' : '/atLeast';
    const limit = test.atLeast ?? test.atMost;
    if (number !== undefined && limit !== undefined) checkLimit(checker, path, limit, number);
  },
  bind: bindOneLimit,
};
