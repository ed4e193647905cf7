import type { RuleFaultCode } from '../model/rule-fault.ts';

/** Sizes beyond which an expression is refused before anything expensive runs. */
export const MAX_SOURCE_LENGTH = 2000;
export const MAX_DEPTH = 32;
export const MAX_NODES = 400;

const OPENING = '([{';
const CLOSING = ')]}';

/**
 * Whether brackets nest deeper than `MAX_DEPTH`. A plain scan of the text: it runs before the parser, which recurses.
 * Brackets inside text literals are not counted; an unclosed literal is left to the parser.
 */
export function nestsTooDeep(source: string): boolean {
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
