import type { Test } from '../model/test-schema.ts';
import { AGE } from './age.ts';
import { CONFIRM, PHOTO } from './confirm.ts';
import { EXPRESSION } from './expression.ts';
import type { Kind } from './kind.ts';
import { LIMIT } from './limit.ts';
import { ONE_OF } from './one-of.ts';
import { RANGE } from './range.ts';
import { SPREAD } from './spread.ts';
import { VALID_THROUGH } from './valid-through.ts';

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
