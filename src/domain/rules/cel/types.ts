import type { Unit } from '../../quantity.ts';
import type { Arithmetic, Comparison, Macro } from './parse.ts';

type Answer = boolean | undefined;

/** `-0` becomes `0`: whole numbers have one zero. */
const whole = (value: number): number | undefined => (Number.isSafeInteger(value) ? value + 0 : undefined);

/**
 * What generated code calls. `undefined` means "no answer" throughout: overflow, division by zero, a value that is
 * not known. Whole numbers stay within ±(2^53 − 1); decimals that leave the finite range have no answer, where the
 * language itself would go on with infinity: an impossible number must not pass a check.
 */
export const CEL_RUNTIME = {
  finite: (value: number): number | undefined => (Number.isFinite(value) ? value : undefined),
  add: (left: number, right: number) => whole(left + right),
  subtract: (left: number, right: number) => whole(left - right),
  multiply: (left: number, right: number) => whole(left * right),
  divide: (left: number, right: number) => (right === 0 ? undefined : whole(Math.trunc(left / right))),
  remainder: (left: number, right: number) => (right === 0 ? undefined : whole(left % right)),

  /** false as soon as one is false; else no answer if one has none */
  all(keys: readonly string[], holds: (key: string) => Answer): Answer {
    let answer: Answer = true;
    for (const key of keys) {
      const one = holds(key);
      if (one === false) return false;
      if (one === undefined) answer = undefined;
    }
    return answer;
  },
  exists(keys: readonly string[], holds: (key: string) => Answer): Answer {
    let answer: Answer = false;
    for (const key of keys) {
      const one = holds(key);
      if (one === true) return true;
      if (one === undefined) answer = undefined;
    }
    return answer;
  },
  /** counts, so that one without an answer leaves the whole without */
  existsOne(keys: readonly string[], holds: (key: string) => Answer): Answer {
    const answers = keys.map(holds);
    return answers.includes(undefined) ? undefined : answers.filter((one) => one === true).length === 1;
  },
  /** a step over all values of a map; no answer when one is missing or there is none */
  fold(
    keys: readonly string[],
    get: (key: string) => CelValue | undefined,
    step: (values: never[]) => CelValue | undefined,
  ) {
    const values = keys.map(get);
    if (values.length === 0 || values.includes(undefined)) return undefined;
    // the checker lets only maps of numbers come here
    return step(values as never[]);
  },
};
export type CelRuntime = typeof CEL_RUNTIME;

/**
 * The types of our expressions. A number of an item carries the decimals it is kept with: a comparison rounds the
 * other side to them, so that the value judged is the value shown. `error` is the type of what is already faulted.
 */
export type CelType =
  | { kind: 'bool' | 'int' | 'date' | 'error' }
  | { kind: 'double'; decimals?: number }
  | { kind: 'quantity'; unit: Unit; decimals?: number }
  | { kind: 'string'; options?: readonly string[]; parameter?: string }
  | { kind: 'list'; of: CelType; parameter?: string }
  | { kind: 'map'; of: CelType; keys: readonly string[] }
  | { kind: 'record'; fields: readonly string[] };

export type CelValue = number | string | boolean | readonly CelValue[];

/** A name's meaning. `ref` is the owner's: the checker hands it back with the compiled expression. */
export interface CelVariable<Ref> {
  type: CelType;
  ref: Ref;
  /** the named part of a record, or for a map of records the map of that part */
  field?(name: string): CelVariable<Ref> | undefined;
}

/** What names mean where an expression stands. */
export interface CelScope<Ref> {
  /** the longest prefix of the dotted path that is a name, and how many parts of the path it takes */
  find(
    path: readonly string[],
  ): { variable: CelVariable<Ref>; taken: number } | { fault: string; unknown: 'name' | 'parameter' | 'item' };
  /** told when a text or list parameter is compared with a closed set of options */
  useOptions?(parameter: string, options: readonly string[]): readonly string[];
  /** told when what a name stands for is a difference of temperatures, not a place on the scale */
  useDifference?(ref: Ref): void;
  /** told what a name that is divided by stands for */
  useDivisor?(ref: Ref): void;
  /** told of a division whose divisor is 0 whatever is answered, with the offset of the divisor; it still has no answer */
  useZeroDivisor?(at: number): void;
}

const ARTICLES: Readonly<Record<string, string>> = {
  bool: 'yes/no',
  int: 'a whole number',
  double: 'a number',
  date: 'a date',
  list: 'a list',
  map: 'one value per position',
  record: 'an answer with parts',
  error: 'unknown',
};

/** A type as a person reads it: `a number in mm`, `one of none, weep, drip`. */
export function describeType(type: CelType): string {
  if (type.kind === 'quantity') return `a number in ${type.unit}`;
  if (type.kind === 'string') return type.options === undefined ? 'a text' : `one of ${type.options.join(', ')}`;
  if (type.kind === 'map') return `one value per position (${type.keys.join(', ')})`;
  if (type.kind === 'record') return `an answer with the parts ${type.fields.join(', ')}`;
  return ARTICLES[type.kind] ?? type.kind;
}

/** Whether the type is a number without a unit, as literals are. */
export const isPlain = (type: CelType): boolean => type.kind === 'int' || type.kind === 'double';

export const isNumeric = (type: CelType): boolean => isPlain(type) || type.kind === 'quantity';

/** Whether the type is one value: not one per position, not an answer with parts. */
export const isSingle = (type: CelType): boolean => type.kind !== 'map' && type.kind !== 'record';

/** A pure step on known values; `undefined` when it has no answer (division by zero, overflow). */
export type Step = (...values: never[]) => CelValue | undefined;

/** The expression after checking: every name resolved, every unit conversion and rounding a step of its own. */
export type Checked<Ref> = { type: CelType } & (
  | { k: 'const'; value: CelValue }
  | { k: 'read'; variable: CelVariable<Ref> }
  | { k: 'at'; variable: CelVariable<Ref>; key: Checked<Ref> }
  | { k: 'present'; variable: CelVariable<Ref>; key?: Checked<Ref> }
  | { k: 'fold'; variable: CelVariable<Ref>; step: Step }
  | { k: 'loop'; id: number }
  | { k: 'macro'; macro: Macro; variable: CelVariable<Ref>; id: number; body: Checked<Ref> }
  | { k: 'compare'; operator: Comparison; left: Checked<Ref>; right: Checked<Ref> }
  | { k: 'arithmetic'; operator: Arithmetic; whole: boolean; left: Checked<Ref>; right: Checked<Ref> }
  | { k: 'and' | 'or'; left: Checked<Ref>; right: Checked<Ref> }
  | { k: 'not'; operand: Checked<Ref> }
  | { k: 'if'; test: Checked<Ref>; yes: Checked<Ref>; no: Checked<Ref> }
  | { k: 'list'; elements: Checked<Ref>[] }
  | { k: 'step'; step: Step; args: Checked<Ref>[] }
);
