import fc from 'fast-check';
import { expect, test } from 'vitest';
import { spreadLabels } from '../../../../src/features/calculations/render-svg.ts';

const AREA = { gap: 15, low: 0, high: 300 };

test('leaves labels that do not overlap where they are', () => {
  expect(spreadLabels([100, 20, 60], AREA)).toEqual([100, 20, 60]);
});

test('moves overlapping labels apart, in their order and inside the area', () => {
  expect(spreadLabels([300, 298, 10, 12], AREA)).toEqual([300, 285, 10, 25]);
});

test('keeps the gap, the order and the area for any labels that fit', () => {
  const height = fc.double({ min: -50, max: 350, noNaN: true });
  fc.assert(
    fc.property(fc.array(height, { maxLength: 20 }), (wanted) => {
      const placed = spreadLabels(wanted, AREA);
      const order = [...wanted.keys()].toSorted((a, b) => (wanted[a] ?? 0) - (wanted[b] ?? 0));
      const inOrder = order.map((index) => placed[index] ?? Number.NaN);
      for (const [i, y] of inOrder.entries()) {
        expect(y).toBeGreaterThanOrEqual(0);
        expect(y).toBeLessThanOrEqual(300);
        if (i > 0) expect(y - (inOrder[i - 1] ?? 0)).toBeGreaterThanOrEqual(15 - 1e-9);
      }
    }),
  );
});
