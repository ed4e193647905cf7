import { expect, test } from 'vitest';
import { AREA_LABELS, WALK_ORDER } from '../../../src/domain/catalogue/texts.ts';
import { findItem, FRESH_ITEMS, LASTING_ITEMS, PERSONAL_ITEMS } from '../../../src/domain/catalogue/catalogue.ts';
import { AREAS } from '../../../src/domain/catalogue/item.ts';

test('the walk goes through every area once, each with a label', () => {
  expect([...WALK_ORDER].sort()).toEqual([...AREAS].sort());
  for (const area of AREAS) expect(AREA_LABELS[area]).not.toBe('');
});

test('what is said of items names items', () => {
  for (const key of [...LASTING_ITEMS, ...PERSONAL_ITEMS, ...FRESH_ITEMS]) expect(findItem(key), key).toBeDefined();
});

test('nothing that wears, no tyre and no confirmation counts as lasting', () => {
  for (const key of LASTING_ITEMS) {
    expect(key).not.toMatch(/^(tyre|pad\.thickness|rotor)/u);
    expect(findItem(key)?.answer.kind, key).not.toBe('confirm');
    expect(FRESH_ITEMS.has(key)).toBe(false);
  }
});
