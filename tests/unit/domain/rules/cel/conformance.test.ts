import {
  getConformanceSuite,
  type IncrementalTest,
  type IncrementalTestSuite,
} from '@bufbuild/cel-spec/testdata/tests.js';
import { describe, expect, it } from 'vitest';
import type { CelType, CelValue } from '../../../../../src/domain/rules/cel/types.ts';
import { type Named, runCel } from './cel-support.ts';

// Source: the conformance cases of the Common Expression Language specification, v0.25.1, shipped in
// @bufbuild/cel-spec. A case counts when our checker takes its expression; then the answer must be the official one.

type Value = NonNullable<IncrementalTest['original']['resultMatcher']['value']>;

function plain(value: unknown): CelValue | undefined {
  if (typeof value !== 'object' || value === null || !('kind' in value)) return undefined;
  const { kind } = value as { kind: { case: string; value: unknown } };
  if (kind.case === 'int64Value') return Number.isSafeInteger(Number(kind.value)) ? Number(kind.value) : undefined;
  if (kind.case === 'doubleValue' || kind.case === 'boolValue' || kind.case === 'stringValue')
    return kind.value as CelValue;
  if (kind.case !== 'listValue') return undefined;
  const items = (kind.value as { values: Value[] }).values.map(plain);
  return items.includes(undefined) ? undefined : (items as CelValue[]);
}

const TYPES: Readonly<Record<string, CelType>> = {
  number: { kind: 'int' },
  string: { kind: 'string' },
  boolean: { kind: 'bool' },
};

/** The case's variables; `undefined` when one is of a kind we do not have. */
function namesOf(test: IncrementalTest): Record<string, Named> | undefined {
  const names: Record<string, Named> = {};
  for (const [name, bound] of Object.entries(test.original.bindings)) {
    const kind = bound.kind.case === 'value' ? bound.kind.value : undefined;
    const value = plain(kind);
    const type = kind?.kind.case === 'doubleValue' ? ({ kind: 'double' } as const) : TYPES[typeof value];
    if (value === undefined || type === undefined) return undefined;
    names[name] = { type, value };
  }
  return names;
}

interface Case {
  name: string;
  expr: string;
  /** `error` where there must be no answer */
  expected: CelValue;
  actual: CelValue | undefined;
}

/** `undefined`: outside the subset. An infinite or NaN answer is outside: we have no answer there, on purpose. */
function judge(test: IncrementalTest): Case | undefined {
  const { original } = test;
  const names = namesOf(test);
  if (names === undefined || original.disableCheck || original.container !== '' || original.checkOnly) return undefined;
  const matcher = original.resultMatcher;
  const isError = matcher.case === 'evalError';
  const expected = isError
    ? 'error'
    : matcher.case === 'value'
      ? plain(matcher.value)
      : matcher.case === undefined
        ? true
        : undefined;
  if (expected === undefined || (typeof expected === 'number' && !Number.isFinite(expected))) return undefined;
  const outcome = runCel(original.expr, names);
  return 'faults' in outcome ? undefined : { name: test.name, expr: original.expr, expected, actual: outcome.value };
}

/** NaN: the language goes on with it, we have no answer (an impossible number must not pass a check). */
const NO_ANSWER_HERE = ['not_eq_double_nan', 'not_ne_double_nan', 'ne_double_nan'];

const agrees = ({ name, expected, actual }: Case): boolean =>
  expected === 'error' || NO_ANSWER_HERE.includes(name)
    ? actual === undefined
    : JSON.stringify(actual) === JSON.stringify(expected);

const SUITE = getConformanceSuite();
const testsOf = (suite: IncrementalTestSuite): IncrementalTest[] => [...suite.tests, ...suite.suites.flatMap(testsOf)];

/** Sections and the number of their cases that fall in the subset; a floor, so that the check cannot become empty. */
const SECTIONS: Readonly<Record<string, number>> = {
  basic: 25,
  comparisons: 102,
  conversions: 4,
  fields: 1,
  fp_math: 26,
  integer_math: 34,
  lists: 11,
  logic: 21,
  parse: 90,
  plumbing: 3,
  string: 12,
};

describe('official conformance cases', () => {
  for (const [section, floor] of Object.entries(SECTIONS)) {
    it(`agrees on section ${section}`, () => {
      const suite = SUITE.suites.find((one) => one.name === section);
      const cases =
        suite === undefined
          ? []
          : testsOf(suite)
              .map(judge)
              .filter((one) => one !== undefined);
      expect(cases.filter((one) => !agrees(one))).toEqual([]);
      expect(cases.length).toBeGreaterThanOrEqual(floor);
    });
  }
});
