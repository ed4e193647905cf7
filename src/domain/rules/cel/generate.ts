import { type Arithmetic, type CelFault, type Comparison, parseCel } from './parse.ts';
import { checkTypes } from './check-types.ts';
import {
  CEL_RUNTIME,
  type CelRuntime,
  type CelScope,
  type CelValue,
  type CelVariable,
  type Checked,
  describeType,
  type Step,
} from './types.ts';

/**
 * Reads what a name stands for. `context` and `places` are the owner's: one place per variable of the expression.
 * `undefined` = not known; the reader never throws.
 */
export interface CelReader<Context, Place> {
  get(context: Context, place: Place): CelValue | undefined;
  /** a position of a map; `undefined` also when the car has no such position */
  getAt(context: Context, place: Place, key: string): CelValue | undefined;
  has(context: Context, place: Place): boolean;
  hasAt(context: Context, place: Place, key: string): boolean;
  /** positions of a map on this car */
  keys(place: Place): readonly string[];
}

export type CelFunction<Context, Place> = (
  reader: CelReader<Context, Place>,
  context: Context,
  places: readonly Place[],
) => CelValue | undefined;

interface Writer<Ref> {
  variables: CelVariable<Ref>[];
  constants: CelValue[];
  steps: Step[];
  locals: number;
}

const COMPARE: Readonly<Record<Comparison, string>> = {
  '==': '===',
  '!=': '!==',
  '<': '<',
  '<=': '<=',
  '>': '>',
  '>=': '>=',
};
const WHOLE: Readonly<Record<Arithmetic, string>> = {
  '+': 'add',
  '-': 'subtract',
  '*': 'multiply',
  '/': 'divide',
  '%': 'remainder',
};

function indexOf<T>(list: T[], value: T): number {
  const found = list.indexOf(value);
  return found >= 0 ? found : list.push(value) - 1;
}

/** Whether a part has a value whatever the answers are: it needs no test. */
function isKnown<Ref>(part: Checked<Ref>): boolean {
  if (part.k === 'present') return part.key === undefined || isKnown(part.key);
  return part.k === 'const' || part.k === 'loop';
}

/** Writes parts into locals; `use` gets their names. A part that is not known makes the whole not known. */
function withLocals<Ref>(
  writer: Writer<Ref>,
  parts: readonly Checked<Ref>[],
  use: (names: string[]) => string,
): string {
  const names: string[] = [];
  const assigns: string[] = [];
  const guards: string[] = [];
  for (const part of parts) {
    if (part.k === 'const' || part.k === 'loop') {
      names.push(write(writer, part));
      continue;
    }
    const name = `t${writer.locals++}`;
    names.push(name);
    assigns.push(`${name}=${write(writer, part)}`);
    if (!isKnown(part)) guards.push(`${name}===undefined`);
  }
  const value = guards.length === 0 ? use(names) : `${guards.join('||')}?undefined:${use(names)}`;
  return `(${[...assigns, value].join(',')})`;
}

function writeArithmetic<Ref>(writer: Writer<Ref>, part: Checked<Ref> & { k: 'arithmetic' }): string {
  return withLocals(writer, [part.left, part.right], ([left, right]) =>
    part.whole ? `L.${WHOLE[part.operator]}(${left},${right})` : `L.finite(${left}${part.operator}${right})`,
  );
}

/** A yes/no that decides (`false` for and, `true` for or) decides even when the other side is not known. */
function writeLogic<Ref>(writer: Writer<Ref>, part: Checked<Ref> & { k: 'and' | 'or' }): string {
  const left = `t${writer.locals++}`;
  const right = `t${writer.locals++}`;
  const decides = String(part.k === 'or');
  const other = String(part.k !== 'or');
  const a = `(${left}=${write(writer, part.left)})===${decides}?${decides}`;
  const b = `(${right}=${write(writer, part.right)})===${decides}?${decides}`;
  return `(${a}:${b}:${left}===undefined||${right}===undefined?undefined:${other})`;
}

function writeMacro<Ref>(writer: Writer<Ref>, part: Checked<Ref> & { k: 'macro' }): string {
  const place = `P[${indexOf(writer.variables, part.variable)}]`;
  const name = { all: 'all', exists: 'exists', exists_one: 'existsOne' }[part.macro];
  return `L.${name}(R.keys(${place}),(p${part.id})=>${write(writer, part.body)})`;
}

function writePlace<Ref>(writer: Writer<Ref>, part: Checked<Ref> & { k: 'read' | 'at' | 'present' | 'fold' }): string {
  const place = `P[${indexOf(writer.variables, part.variable)}]`;
  if (part.k === 'read') return `R.get(C,${place})`;
  if (part.k === 'fold') {
    return `L.fold(R.keys(${place}),(k)=>R.getAt(C,${place},k),S[${writer.steps.push(part.step) - 1}])`;
  }
  if (part.k === 'at') return withLocals(writer, [part.key], ([key]) => `R.getAt(C,${place},${key})`);
  if (part.key === undefined) return `R.has(C,${place})`;
  return withLocals(writer, [part.key], ([key]) => `R.hasAt(C,${place},${key})`);
}

function write<Ref>(writer: Writer<Ref>, part: Checked<Ref>): string {
  switch (part.k) {
    case 'const':
      return `K[${indexOf(writer.constants, part.value)}]`;
    case 'loop':
      return `p${part.id}`;
    case 'read':
    case 'at':
    case 'present':
    case 'fold':
      return writePlace(writer, part);
    case 'macro':
      return writeMacro(writer, part);
    case 'compare':
      return withLocals(writer, [part.left, part.right], ([left, right]) => `${left}${COMPARE[part.operator]}${right}`);
    case 'arithmetic':
      return writeArithmetic(writer, part);
    case 'and':
    case 'or':
      return writeLogic(writer, part);
    case 'not':
      return withLocals(writer, [part.operand], ([operand]) => `!${operand}`);
    case 'if': {
      const test = `t${writer.locals++}`;
      return `((${test}=${write(writer, part.test)})===undefined?undefined:${test}?${write(writer, part.yes)}:${write(writer, part.no)})`;
    }
    case 'list':
      return withLocals(writer, part.elements, (names) => `[${names.join(',')}]`);
    case 'step': {
      const step = writer.steps.push(part.step) - 1;
      return withLocals(writer, part.args, (names) => `S[${step}](${names.join(',')})`);
    }
  }
}

type Factory = (L: CelRuntime, K: readonly CelValue[], S: readonly Step[]) => CelFunction<unknown, unknown>;

/**
 * Makes one function of a checked expression. The text that is compiled is written from the checked tree alone:
 * fixed words and index numbers; names, texts and numbers of the rule are passed by index and never become code.
 */
export function generate<Ref>(checked: Checked<Ref>): {
  variables: readonly CelVariable<Ref>[];
  run: CelFunction<unknown, unknown>;
} {
  const writer: Writer<Ref> = { variables: [], constants: [], steps: [], locals: 0 };
  const body = write(writer, checked);
  const locals = Array.from({ length: writer.locals }, (_, index) => `t${index}`);
  const declare = locals.length === 0 ? '' : `let ${locals.join(',')};`;
  const source = `"use strict";return function(R,C,P){${declare}return ${body};}`;
  // oxlint-disable-next-line typescript/no-implied-eval -- the text is ours, see above; it returns what Factory says
  const factory = new Function('L', 'K', 'S', source) as Factory;
  return { variables: writer.variables, run: factory(CEL_RUNTIME, writer.constants, writer.steps) };
}

/** A checked expression as a function; `variables` are the names it reads, in the order of its places. */
interface CelExpression<Ref> {
  variables: readonly CelVariable<Ref>[];
  run: CelFunction<unknown, unknown>;
  checked: Checked<Ref>;
}

/**
 * Reads, checks and compiles an expression. Nothing of it is run.
 *
 * @param want `bool` refuses an expression that does not answer yes or no; `any` takes every single value
 * @returns the compiled expression, or every fault that was found with its offset
 */
export function compileCel<Ref>(
  source: string,
  scope: CelScope<Ref>,
  want: 'bool' | 'any',
): { ok: true; expression: CelExpression<Ref> } | { ok: false; faults: CelFault[] } {
  const parsed = parseCel(source);
  if (!parsed.ok) return { ok: false, faults: [parsed.fault] };
  const typed = checkTypes(parsed.node, scope);
  if (!typed.ok) return typed;
  const { checked } = typed;
  if (want === 'bool' && checked.type.kind !== 'bool') {
    const detail = `the expression must answer yes or no, this is ${describeType(checked.type)}`;
    return { ok: false, faults: [{ code: 'type-clash', detail, offset: 0 }] };
  }
  return { ok: true, expression: { ...generate(checked), checked } };
}
