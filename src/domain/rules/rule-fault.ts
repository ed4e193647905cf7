/** What can be wrong with a rule set or with a run group's overrides. */
export type RuleFaultCode =
  | 'bad-shape'
  | 'missing-basis'
  | 'duplicate-id'
  | 'unknown-item'
  | 'unknown-field'
  | 'unknown-parameter'
  | 'unknown-function'
  | 'unknown-name'
  | 'unknown-option'
  | 'unknown-unit'
  | 'unknown-position'
  | 'unknown-rule'
  | 'type-clash'
  | 'unit-clash'
  | 'item-not-listed'
  | 'each-mismatch'
  | 'bad-date'
  | 'bad-expression'
  | 'expression-too-large'
  | 'not-in-subset'
  | 'unused-parameter'
  | 'bad-example'
  | 'example-failed';

/** One fault and its place: an RFC 6901 pointer into the document; `at` is the place inside an expression. */
export interface RuleFault {
  pointer: string;
  code: RuleFaultCode;
  detail: string;
  /** 0-based offset in UTF-16 units and 1-based line and column, for a fault inside an expression */
  at?: { offset: number; line: number; column: number };
}
