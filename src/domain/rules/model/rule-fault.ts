/** What can be wrong with a rule set or with a run group's overrides; each has a fixture in the tests. */
export const RULE_FAULT_CODES = [
  'bad-yaml',
  'bad-shape',
  'missing-basis',
  'duplicate-id',
  'unknown-item',
  'unknown-field',
  'unknown-parameter',
  'unknown-function',
  'unknown-name',
  'unknown-option',
  'unknown-unit',
  'unknown-position',
  'unknown-rule',
  'type-clash',
  'unit-clash',
  'divides-by-zero',
  'item-not-listed',
  'each-mismatch',
  'bad-date',
  'bad-expression',
  'expression-too-large',
  'not-in-subset',
  'unused-parameter',
  'unknown-category',
  'unused-category',
  'never-applies',
  'never-fails',
  'floor-loosened',
  'bad-example',
  'example-failed',
] as const;
export type RuleFaultCode = (typeof RULE_FAULT_CODES)[number];

/** One fault and its place: an RFC 6901 pointer into the document; `at` is the place inside an expression. */
export interface RuleFault {
  pointer: string;
  code: RuleFaultCode;
  detail: string;
  /** 0-based offset in UTF-16 units and 1-based line and column, for a fault inside an expression */
  at?: { offset: number; line: number; column: number };
}

/** What a rule set may be published with, and what its author should know. */
export type RuleWarningCode = 'no-passing-example' | 'no-failing-example' | 'no-always-look';

export interface RuleWarning {
  pointer: string;
  code: RuleWarningCode;
  detail: string;
}
