import { expect, test } from 'vitest';
import { chooseType } from '../../../../src/features/calculations/calculate.ts';

const BOTH = ['application/json', 'image/svg+xml'] as const;
const [JSON_TYPE, SVG] = BOTH;

// RFC 9110, section 12.5.1: the most specific range decides, q=0 means not acceptable, no Accept means anything.
test.each<[string | undefined, string | undefined]>([
  [undefined, JSON_TYPE],
  ['', JSON_TYPE],
  ['*/*', JSON_TYPE],
  ['application/*', JSON_TYPE],
  ['image/*', SVG],
  ['image/svg+xml', SVG],
  ['IMAGE/SVG+XML; charset=utf-8', SVG],
  ['image/svg+xml, application/json', JSON_TYPE],
  ['image/svg+xml, application/json;q=0.9', SVG],
  ['image/svg+xml;q=0.5, application/json;q=0.9', JSON_TYPE],
  ['image/png, image/svg+xml;q=0.1', SVG],
  ['text/html,application/xhtml+xml,image/avif,*/*;q=0.8', JSON_TYPE],
  ['*/*, application/json;q=0', SVG],
  ['*/*;q=0.2, image/*;q=0.7', SVG],
  ['image/*, image/svg+xml;q=0', undefined],
  ['text/html', undefined],
  ['*/*;q=0', undefined],
  ['image/svg+xml;q=0', undefined],
  ['nonsense', undefined],
  [',,;q=1,', undefined],
  ['image/svg+xml;q=much', undefined],
])('Accept %j is answered in %j', (accept, expected) => {
  expect(chooseType(accept, BOTH)).toBe(expected);
});

test('a type that is not offered is not found by another that is', () => {
  expect(chooseType('image/svg+xml', [JSON_TYPE])).toBeUndefined();
  expect(chooseType('image/svg+xml, */*;q=0.1', [JSON_TYPE])).toBe(JSON_TYPE);
  expect(chooseType(undefined, [])).toBeUndefined();
});
