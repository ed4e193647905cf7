import type { Test } from '../model/test-schema.ts';
import { AGE, VALID_THROUGH } from './dates.ts';
import { CONFIRM, ONE_OF, PHOTO } from './one-of.ts';
import { EXPRESSION } from './expression.ts';
import type { Kind } from './answer.ts';
import { LIMIT, RANGE } from './limit.ts';
import { SPREAD } from './spread.ts';

type Kinds = { [K in Test['kind']]: Kind<Extract<Test, { kind: K }>> };

const KINDS: Kinds = {
  limit: LIMIT,
  range: RANGE,
  'one-of': ONE_OF,
  'none-of': ONE_OF,
  confirm: CONFIRM,
  age: AGE,
  'valid-through': VALID_THROUGH,
  spread: SPREAD,
  photo: PHOTO,
  expression: EXPRESSION,
};

/** The kind of a test. */
export function kindOfTest(test: Test): Kind {
  return KINDS[test.kind];
}
