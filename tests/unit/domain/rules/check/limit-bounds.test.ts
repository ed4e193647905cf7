import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { boundsOf } from '../../../../../src/domain/rules/check/check-parameters.ts';
import { formatQuantity, UNITS, type Unit } from '../../../../../src/domain/quantity.ts';

const unit = fc.constantFrom(...(Object.keys(UNITS) as Unit[]));
const value = fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e9, max: 1e9 });
/** as `formatQuantity` shows it */
const shown = (number: number): number => Number(number.toPrecision(12)) + 0;

describe('the numbers of a limit', () => {
  test('come back from every text that a limit of one side makes', () => {
    fc.assert(
      fc.property(value, unit, (number, of) => {
        const is = { value: shown(number), unit: of };
        const text = formatQuantity(number, of);
        expect(boundsOf(`≥ ${text}`)).toEqual({ min: is });
        expect(boundsOf(`> ${text}`)).toEqual({ min: is, exclusive: true });
        expect(boundsOf(`≤ ${text}`)).toEqual({ max: is });
        expect(boundsOf(`< ${text}`)).toEqual({ max: is, exclusive: true });
        expect(boundsOf(`= ${text}`)).toEqual({ min: is, max: is });
        expect(boundsOf(`spread ≤ ${text}`)).toEqual({ max: is, spread: true });
      }),
    );
  });

  test('come back from a range', () => {
    fc.assert(
      fc.property(value, value, unit, (low, high, of) => {
        expect(boundsOf(`${formatQuantity(low, of)} to ${formatQuantity(high, of)}`)).toEqual({
          min: { value: shown(low), unit: of },
          max: { value: shown(high), unit: of },
        });
      }),
    );
  });

  test.each([
    undefined,
    '',
    'yes',
    'one of: 40 mm, 50 mm',
    'none of: ≥ 4 mm',
    '≥ 1 photo',
    '≥ 2 photos',
    'on or after 2025-06-14 (at most 12 months old on 2026-06-14)',
    'valid through 2026-06-14',
    '≥ mm',
    '≥ 4 parsecs',
  ])('are none in %j', (limit) => {
    expect(boundsOf(limit)).toBeUndefined();
  });
});
