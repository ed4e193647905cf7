import { daysBetween, isPlainDate, wholeMonthsBetween } from '../../calendar.ts';
import { dimensionOf, parseUnit } from '../../quantity.ts';
import type { Node } from './parse.ts';
import { inUnit } from './check-compare.ts';
import { type Checker, fault, FAULTED, findPlace, isFaulted } from './check-names.ts';
import {
  type CelType,
  type CelValue,
  type CelVariable,
  type Checked,
  describeType,
  isNumeric,
  type Step,
} from './types.ts';

type Call = Node & { op: 'call' };
type CheckFunction = <Ref>(checker: Checker<Ref>, call: Call, args: Node[]) => Checked<Ref>;

const wrongArgs = <Ref>(checker: Checker<Ref>, call: Call, usage: string): Checked<Ref> =>
  fault(checker, 'type-clash', `write ${usage}`, call);

/** `q(4, "mm")`: a number with its unit. */
const quantity: CheckFunction = (checker, call, [number, unitText]) => {
  if ((number?.op !== 'int' && number?.op !== 'double') || unitText?.op !== 'string' || call.args.length !== 2) {
    return wrongArgs(checker, call, 'a number and its unit, for example q(4, "mm")');
  }
  const unit = parseUnit(unitText.value);
  if (unit === undefined)
    return fault(checker, 'unknown-unit', `${JSON.stringify(unitText.value)} is not a known unit`, unitText);
  return { k: 'const', value: number.value, type: { kind: 'quantity', unit } };
};

/** `date("2026-08-31")`: a date that is written out. */
const date: CheckFunction = (checker, call, [text]) => {
  if (text?.op !== 'string' || call.args.length !== 1) return wrongArgs(checker, call, 'date("2026-08-31")');
  if (!isPlainDate(text.value)) return fault(checker, 'bad-date', `${JSON.stringify(text.value)} is not a date`, text);
  return { k: 'const', value: text.value, type: { kind: 'date' } };
};

/** Days or completed months from the first date to the second; negative when the second is earlier. */
const between =
  (name: 'days' | 'months', step: Step): CheckFunction =>
  (checker, call, nodes) => {
    const args = nodes.map((node) => checker.check(node));
    if (isFaulted(...args)) return FAULTED;
    if (args.length !== 2 || args.some((arg) => arg.type.kind !== 'date')) {
      return wrongArgs(checker, call, `${name}(earlier date, later date)`);
    }
    return { k: 'step', step, args, type: { kind: 'quantity', unit: name === 'days' ? 'day' : 'month' } };
  };

/** `atEnd(x)`: the age of a date on the last event day, in days; negative when the date is later. */
const atEnd: CheckFunction = (checker, call, [node]) => {
  const date = node && checker.check(node);
  if (date === undefined || call.args.length !== 1) return wrongArgs(checker, call, 'atEnd(date)');
  if (isFaulted(date)) return FAULTED;
  if (date.type.kind !== 'date') return wrongArgs(checker, call, `atEnd(date), not ${describeType(date.type)}`);
  const end = checker.check({ op: 'name', path: ['event', 'endsOn'], at: call.at });
  if (isFaulted(end)) return FAULTED;
  return { k: 'step', step: daysBetween, args: [date, end], type: { kind: 'quantity', unit: 'day' } };
};

const numeric = (type: CelType): type is CelType & { kind: 'int' | 'double' | 'quantity' } => isNumeric(type);

const absolute: CheckFunction = (checker, call, [node]) => {
  const arg = node && checker.check(node);
  if (arg === undefined || call.args.length !== 1) return wrongArgs(checker, call, 'abs(number)');
  if (isFaulted(arg)) return FAULTED;
  if (!numeric(arg.type)) return wrongArgs(checker, call, `abs(number), not ${describeType(arg.type)}`);
  return { k: 'step', step: (value: number) => Math.abs(value), args: [arg], type: arg.type };
};

function mapOf<Ref>(checker: Checker<Ref>, node: Node | undefined): CelVariable<Ref> | undefined {
  const isName = node?.op === 'name' || node?.op === 'select';
  const place = isName ? findPlace(checker, node) : undefined;
  return place !== undefined && place.key === undefined && place.variable.type.kind === 'map'
    ? place.variable
    : undefined;
}

/** The largest or smallest of several numbers, or over all positions of an item. */
const extreme =
  (name: 'min' | 'max'): CheckFunction =>
  <Ref>(checker: Checker<Ref>, call: Call, nodes: Node[]): Checked<Ref> => {
    const pick = name === 'min' ? Math.min : Math.max;
    if (nodes.length === 1) return foldNumbers(checker, call, nodes[0], name, (values: number[]) => pick(...values));
    const args = nodes.map((node) => checker.check(node));
    const [first] = args;
    if (isFaulted(...args)) return FAULTED;
    if (first === undefined || !args.every((arg) => numeric(arg.type)))
      return wrongArgs(checker, call, `${name}(number, number)`);
    const unit = first.type.kind === 'quantity' ? first.type.unit : undefined;
    const same = args.map((arg) => (unit === undefined ? arg : inUnit(arg, unit)));
    if (same.includes(undefined) || args.some((arg) => arg.type.kind !== first.type.kind)) {
      return fault(checker, 'unit-clash', `${name}() needs numbers of one kind and unit`, call);
    }
    const decimals = args.every((arg) => JSON.stringify(arg.type) === JSON.stringify(first.type));
    const type: CelType = decimals || unit === undefined ? first.type : { kind: 'quantity', unit };
    return {
      k: 'step',
      step: (...values: number[]) => pick(...values),
      args: same.filter((arg) => arg !== undefined),
      type,
    };
  };

function foldNumbers<Ref>(
  checker: Checker<Ref>,
  call: Call,
  node: Node | undefined,
  name: string,
  step: Step,
): Checked<Ref> {
  const before = checker.faults.length;
  const variable = mapOf(checker, node);
  if (checker.faults.length > before) return FAULTED;
  const of = variable?.type.kind === 'map' ? variable.type.of : undefined;
  if (variable === undefined || of === undefined || !numeric(of)) {
    return wrongArgs(checker, call, `${name}(x), x an item with a number per position`);
  }
  return { k: 'fold', variable, step, type: of };
}

/** Largest minus smallest over all positions of an item. */
const spread: CheckFunction = <Ref>(checker: Checker<Ref>, call: Call, nodes: Node[]): Checked<Ref> => {
  const folded = foldNumbers<Ref>(
    checker,
    call,
    nodes.length === 1 ? nodes[0] : undefined,
    'spread',
    (values: number[]) => Math.max(...values) - Math.min(...values),
  );
  const { type } = folded;
  const isScaled = type.kind === 'quantity' && ['temperature', 'sound-level'].includes(dimensionOf(type.unit));
  return isScaled
    ? fault(checker, 'unit-clash', 'a spread of temperatures or sound levels is not offered', call)
    : folded;
};

/** Characters of a text, or entries of a list. */
const size: CheckFunction = <Ref>(checker: Checker<Ref>, call: Call, [node]: Node[]): Checked<Ref> => {
  const variable = node?.op === 'name' ? mapOf({ ...checker, faults: [] }, node) : undefined;
  if (variable !== undefined && variable.type.kind === 'map') {
    return fault(checker, 'type-clash', 'size() is of a text or a list', call);
  }
  const arg = node && checker.check(node);
  if (arg === undefined || call.args.length + (call.target === undefined ? 0 : 1) !== 1)
    return wrongArgs(checker, call, 'size(x)');
  if (isFaulted(arg)) return FAULTED;
  if (arg.type.kind !== 'string' && arg.type.kind !== 'list')
    return wrongArgs(checker, call, `size(text or list), not of ${describeType(arg.type)}`);
  const step = (value: string | readonly CelValue[]) =>
    typeof value === 'string' ? Array.from(value).length : value.length;
  return { k: 'step', step, args: [arg], type: { kind: 'int' } };
};

/** `text.startsWith(prefix)` */
const startsWith: CheckFunction = (checker, call, nodes) => {
  const args = nodes.map((node) => checker.check(node));
  if (isFaulted(...args)) return FAULTED;
  if (call.target === undefined || args.length !== 2 || args.some((arg) => arg.type.kind !== 'string')) {
    return wrongArgs(checker, call, 'text.startsWith(text)');
  }
  return { k: 'step', step: (text: string, prefix: string) => text.startsWith(prefix), args, type: { kind: 'bool' } };
};

/** `double(x)`: a whole number as a decimal one. */
const double: CheckFunction = (checker, call, [node]) => {
  const arg = node && checker.check(node);
  if (arg === undefined || call.args.length !== 1) return wrongArgs(checker, call, 'double(whole number)');
  if (isFaulted(arg)) return FAULTED;
  if (arg.type.kind !== 'int' && arg.type.kind !== 'double')
    return wrongArgs(checker, call, `double(whole number), not ${describeType(arg.type)}`);
  return { k: 'step', step: (value: number) => value, args: [arg], type: { kind: 'double' } };
};

const FUNCTIONS: ReadonlyMap<string, CheckFunction> = new Map<string, CheckFunction>([
  ['q', quantity],
  ['date', date],
  ['days', between('days', daysBetween)],
  ['months', between('months', wholeMonthsBetween)],
  ['atEnd', atEnd],
  ['abs', absolute],
  ['min', extreme('min')],
  ['max', extreme('max')],
  ['spread', spread],
  ['size', size],
  ['startsWith', startsWith],
  ['double', double],
]);
const METHODS = ['size', 'startsWith'];

/** A call of one of our functions; `text.startsWith(x)` and `x.size()` are the only methods. */
export function checkCall<Ref>(checker: Checker<Ref>, call: Call): Checked<Ref> {
  const check = FUNCTIONS.get(call.name);
  if (check === undefined || (call.target !== undefined && !METHODS.includes(call.name))) {
    const known = [...FUNCTIONS.keys(), 'has'].join(', ');
    return fault(
      checker,
      'unknown-function',
      `there is no function ${JSON.stringify(call.name)}; there are ${known}`,
      call,
    );
  }
  return check(checker, call, call.target === undefined ? call.args : [call.target, ...call.args]);
}
