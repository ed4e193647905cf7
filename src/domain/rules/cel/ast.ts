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
