import { parse as parseSource } from '@bufbuild/cel';
import type { RuleFaultCode } from '../model/rule-fault.ts';

/** Sizes beyond which an expression is refused before anything expensive runs. */
const MAX_SOURCE_LENGTH = 2000;
const MAX_DEPTH = 32;
const MAX_NODES = 400;

const OPENING = '([{';
const CLOSING = ')]}';

/**
 * Whether brackets nest deeper than `MAX_DEPTH`. A plain scan of the text: it runs before the parser, which recurses.
 * Brackets inside text literals are not counted; an unclosed literal is left to the parser.
 */
function nestsTooDeep(source: string): boolean {
  let depth = 0;
  let quote = '';
  for (let index = 0; index < source.length; index += 1) {
    const char = source.charAt(index);
    if (quote !== '') {
      if (char === '\\') index += 1;
      else if (char === quote) quote = '';
    } else if (char === '"' || char === "'") quote = char;
    else if (OPENING.includes(char)) depth += 1;
    else if (CLOSING.includes(char)) depth -= 1;
    if (depth > MAX_DEPTH) return true;
  }
  return false;
}

export type Comparison = '==' | '!=' | '<' | '<=' | '>' | '>=';
export type Arithmetic = '+' | '-' | '*' | '/' | '%';
export type Macro = 'all' | 'exists' | 'exists_one';

/** The expression as written, reduced to the operations of our subset; `at` is its offset in the source. */
export type Node = { at: number } & (
  | { op: 'int'; value: number }
  | { op: 'double'; value: number }
  | { op: 'string'; value: string }
  | { op: 'bool'; value: boolean }
  | { op: 'list'; elements: Node[] }
  | { op: 'name'; path: string[] }
  | { op: 'select'; operand: Node; field: string }
  | { op: 'has'; operand: Node }
  | { op: 'index'; operand: Node; key: Node }
  | { op: 'in'; item: Node; list: Node }
  | { op: 'call'; name: string; target?: Node; args: Node[] }
  | { op: 'compare'; operator: Comparison; left: Node; right: Node }
  | { op: 'arithmetic'; operator: Arithmetic; left: Node; right: Node }
  | { op: 'and'; left: Node; right: Node }
  | { op: 'or'; left: Node; right: Node }
  | { op: 'not'; operand: Node }
  | { op: 'negate'; operand: Node }
  | { op: 'conditional'; test: Node; yes: Node; no: Node }
  | { op: 'macro'; macro: Macro; range: Node; variable: string; body: Node }
);

/** A fault inside an expression; `offset` counts UTF-16 units from its start. */
export interface CelFault {
  code: RuleFaultCode;
  detail: string;
  offset: number;
}

/** 1-based line and column of an offset, for people and editors. */
export function placeOf(source: string, offset: number): { offset: number; line: number; column: number } {
  const before = source.slice(0, offset).split('\n');
  return { offset, line: before.length, column: (before.at(-1)?.length ?? 0) + 1 };
}

type Parsed = ReturnType<typeof parseSource>;
type Expr = Parsed['expr'];
type Kind<C extends Expr['exprKind']['case']> = Extract<Expr['exprKind'], { case: C }>;
type Call = Kind<'callExpr'>['value'];

class NotParsed extends Error {
  readonly fault: CelFault;
  constructor(fault: CelFault) {
    super(fault.detail);
    this.fault = fault;
  }
}

interface Reader {
  parsed: Parsed;
  nodes: number;
}

const COMPARISONS: Readonly<Record<string, Comparison>> = {
  '_==_': '==',
  '_!=_': '!=',
  '_<_': '<',
  '_<=_': '<=',
  '_>_': '>',
  '_>=_': '>=',
};
const ARITHMETIC: Readonly<Record<string, Arithmetic>> = { '_+_': '+', '_-_': '-', '_*_': '*', '_/_': '/', '_%_': '%' };

function refuse(code: CelFault['code'], detail: string, offset: number): never {
  throw new NotParsed({ code, detail, offset });
}

const offsetOf = (reader: Reader, expr: Expr): number => reader.parsed.sourceInfo?.positions[String(expr.id)] ?? 0;

function readLiteral(expr: Kind<'constExpr'>['value'], at: number): Node {
  const { constantKind: literal } = expr;
  switch (literal.case) {
    case 'boolValue':
      return { op: 'bool', value: literal.value, at };
    case 'stringValue':
      return { op: 'string', value: literal.value, at };
    case 'doubleValue':
      if (!Number.isFinite(literal.value)) return refuse('bad-expression', 'this number is too large', at);
      return { op: 'double', value: literal.value, at };
    case 'int64Value': {
      const value = Number(literal.value);
      if (!Number.isSafeInteger(value)) return refuse('bad-expression', 'this whole number is too large', at);
      return { op: 'int', value, at };
    }
    default:
      return refuse('not-in-subset', 'only numbers, texts, true, false and lists of them can be written here', at);
  }
}

function readSelect(reader: Reader, select: Kind<'selectExpr'>['value'], at: number, depth: number): Node {
  if (select.operand === undefined) return refuse('bad-expression', 'nothing before the dot', at);
  const operand = readExpr(reader, select.operand, depth);
  const node: Node =
    operand.op === 'name'
      ? { op: 'name', path: [...operand.path, select.field], at: operand.at }
      : { op: 'select', operand, field: select.field, at: operand.at };
  return select.testOnly ? { op: 'has', operand: node, at } : node;
}

function readBinary(call: Call, left: Node, right: Node): Node | undefined {
  const at = left.at;
  const comparison = COMPARISONS[call.function];
  if (comparison !== undefined) return { op: 'compare', operator: comparison, left, right, at };
  const arithmetic = ARITHMETIC[call.function];
  if (arithmetic !== undefined) return { op: 'arithmetic', operator: arithmetic, left, right, at };
  switch (call.function) {
    case '_&&_':
      return { op: 'and', left, right, at };
    case '_||_':
      return { op: 'or', left, right, at };
    case '_[_]':
      return { op: 'index', operand: left, key: right, at };
    case '@in':
      return { op: 'in', item: left, list: right, at };
    default:
      return undefined;
  }
}

function readOperator(call: Call, args: Node[], at: number): Node | undefined {
  const [first, second, third] = args;
  if (first === undefined) return undefined;
  if (call.function === '!_') return { op: 'not', operand: first, at };
  if (call.function === '-_') return { op: 'negate', operand: first, at };
  if (second === undefined) return undefined;
  if (call.function === '_?_:_' && third !== undefined) {
    return { op: 'conditional', test: first, yes: second, no: third, at: first.at };
  }
  return readBinary(call, first, second);
}

function readCall(reader: Reader, call: Call, at: number, depth: number): Node {
  if (MACROS.has(call.function) && call.target !== undefined) {
    return refuse('bad-expression', `${call.function} takes a name and a condition: x.${call.function}(p, …)`, at);
  }
  const args = call.args.map((arg) => readExpr(reader, arg, depth));
  const operator = call.target === undefined ? readOperator(call, args, at) : undefined;
  if (operator !== undefined) return operator;
  // the parser leaves has() of a plain name as a call; a catalogue key may be one word
  if (call.function === 'has' && args[0]?.op === 'name') return { op: 'has', operand: args[0], at };
  const target = call.target === undefined ? undefined : readExpr(reader, call.target, depth);
  return { op: 'call', name: call.function, args, at, ...(target !== undefined && { target }) };
}

const MACROS: ReadonlySet<string> = new Set(['all', 'exists', 'exists_one', 'map', 'filter']);

const isOurs = (name: string): name is Macro => name === 'all' || name === 'exists' || name === 'exists_one';

/** The condition as written, inside the step that the parser makes of it: `@result && condition` for all(). */
function bodyOf(loop: Kind<'comprehensionExpr'>['value'], macro: Macro): Expr | undefined {
  const step = loop.loopStep?.exprKind;
  return step?.case === 'callExpr' ? step.value.args[macro === 'exists_one' ? 0 : 1] : undefined;
}

function readMacro(reader: Reader, expr: Expr, loop: Kind<'comprehensionExpr'>['value'], depth: number): Node {
  const at = offsetOf(reader, expr);
  const written = reader.parsed.sourceInfo?.macroCalls[String(expr.id)]?.exprKind;
  const macro = written?.case === 'callExpr' ? written.value.function : '';
  if (!isOurs(macro)) {
    const detail = `${macro} is not part of the expressions of rules; all, exists and exists_one are`;
    return refuse('not-in-subset', detail, at);
  }
  const body = bodyOf(loop, macro);
  if (loop.iterRange === undefined || body === undefined || loop.iterVar2 !== '') {
    return refuse('not-in-subset', `${macro} takes one name and one condition`, at);
  }
  const range = readExpr(reader, loop.iterRange, depth);
  return { op: 'macro', macro, range, variable: loop.iterVar, body: readExpr(reader, body, depth), at };
}

function readExpr(reader: Reader, expr: Expr, parentDepth: number): Node {
  const depth = parentDepth + 1;
  const at = offsetOf(reader, expr);
  reader.nodes += 1;
  if (depth > MAX_DEPTH) refuse('expression-too-large', `nested deeper than ${MAX_DEPTH} levels`, at);
  if (reader.nodes > MAX_NODES) refuse('expression-too-large', `more than ${MAX_NODES} parts`, at);
  const kind = expr.exprKind;
  switch (kind.case) {
    case 'constExpr':
      return readLiteral(kind.value, at);
    case 'identExpr':
      return { op: 'name', path: [kind.value.name.replace(/^\./, '')], at };
    case 'selectExpr':
      return readSelect(reader, kind.value, at, depth);
    case 'callExpr':
      return readCall(reader, kind.value, at, depth);
    case 'listExpr':
      return { op: 'list', elements: kind.value.elements.map((element) => readExpr(reader, element, depth)), at };
    case 'comprehensionExpr':
      return readMacro(reader, expr, kind.value, depth);
    default:
      return refuse('not-in-subset', 'maps and messages cannot be written here', at);
  }
}

function readSyntaxError(error: unknown): CelFault {
  const location = error instanceof Error && 'location' in error ? error.location : undefined;
  const start = typeof location === 'object' && location !== null && 'start' in location ? location.start : undefined;
  const offset = typeof start === 'object' && start !== null && 'offset' in start ? start.offset : 0;
  const text =
    error instanceof Error ? error.message.replace(/^<input>:\d+:\d+: /, '').slice(0, 120) : 'cannot be read';
  return { code: 'bad-expression', detail: text, offset: typeof offset === 'number' ? offset : 0 };
}

type ParsedCel = { ok: true; node: Node } | { ok: false; fault: CelFault };

/** A rule is checked, looked through and compiled in turn, each from its text; reading it is the slowest part. */
const kept = new Map<string, ParsedCel>();
const MAX_KEPT = 1000;
const MAX_KEPT_LENGTH = 500;

/**
 * Reads the text of an expression into our tree, which must not be changed: it is kept. The grammar is that of the Common Expression Language (kept parser);
 * what is outside our subset is refused here by shape, the rest by the checker.
 *
 * @returns the tree, or the first fault: too large, not readable, or not in the subset
 */
export function parseCel(source: string): ParsedCel {
  const known = kept.get(source);
  if (known !== undefined) return known;
  const parsed = parseText(source);
  if (source.length > MAX_KEPT_LENGTH) return parsed;
  const oldest = kept.keys().next().value;
  if (kept.size >= MAX_KEPT && oldest !== undefined) kept.delete(oldest);
  kept.set(source, parsed);
  return parsed;
}

function parseText(source: string): ParsedCel {
  const tooLarge = (detail: string) =>
    ({ ok: false, fault: { code: 'expression-too-large', detail, offset: 0 } }) as const;
  if (source.length > MAX_SOURCE_LENGTH) return tooLarge(`longer than ${MAX_SOURCE_LENGTH} characters`);
  if (nestsTooDeep(source)) return tooLarge(`nested deeper than ${MAX_DEPTH} levels`);
  let parsed: Parsed;
  try {
    parsed = parseSource(source);
  } catch (error) {
    return { ok: false, fault: readSyntaxError(error) };
  }
  try {
    return { ok: true, node: readExpr({ parsed, nodes: 0 }, parsed.expr, 0) };
  } catch (error) {
    if (error instanceof NotParsed) return { ok: false, fault: error.fault };
    throw error;
  }
}
