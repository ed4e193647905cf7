import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { isTwin, lookAlikeKind, lookAlikesOf } from '../../../src/domain/look-alikes.ts';

// Which characters are mixed up: common practice, no source.
describe('a number that can be taken for another', () => {
  test.each([
    ['7', '07', 'zeros'],
    ['7', '007', 'zeros'],
    ['7a', '07A', 'zeros'],
    ['7a', '7A', 'case'],
    ['6', '9', 'characters'],
    ['69', '96', 'characters'],
    ['16', '91', 'characters'],
    ['106', '901', 'characters'],
    ['66', '99', 'characters'],
    ['O7', '07', 'characters'],
    ['O7', '7', 'characters'],
    ['I1', 'l1', 'characters'],
    ['1L', 'I1', 'characters'],
    ['lO', '10', 'characters'],
    ['B2', '82', 'characters'],
    ['S1', '5l', 'characters'],
    ['12', '21', 'swapped'],
    ['18', '81', 'swapped'],
    ['16', '61', 'swapped'],
    ['012', '21', 'swapped'],
    ['12', '13', undefined],
    ['12', '112', undefined],
    ['10', '1', undefined],
    ['7', '7', undefined],
    ['2', '5', undefined],
  ] as const)('%s and %s: %s', (a, b, kind) => {
    expect(lookAlikeKind(a, b)).toBe(kind);
    expect(lookAlikeKind(b, a)).toBe(kind);
  });

  const number = fc.stringMatching(/^[0-9OoIlLBbSsAa]{1,4}$/);

  test('is so both ways, and never itself', () => {
    fc.assert(
      fc.property(number, number, (a, b) => {
        expect(lookAlikeKind(a, b)).toBe(lookAlikeKind(b, a));
        expect(lookAlikeKind(a, a)).toBeUndefined();
      }),
      { numRuns: 5000 },
    );
  });

  test('a zero before a number is a twin of it, whatever the number', () => {
    fc.assert(
      fc.property(number, (a) => {
        const kind = lookAlikeKind(a, `0${a}`);
        expect(kind === undefined ? undefined : isTwin({ kind })).toBe(true);
      }),
    );
  });
});

describe('the cars that a number can be taken for', () => {
  test('are named with their car, each once, twins first, and the number itself is none of them', () => {
    const cars = [
      { carNumber: '61', vehicle: 'Saloon', colour: 'blue' },
      { carNumber: '16', vehicle: 'Coupé' },
      { carNumber: '016', vehicle: 'Estate', colour: 'red' },
      { carNumber: '91', vehicle: 'Roadster' },
      { carNumber: '91', vehicle: 'Roadster' },
      { carNumber: '17', vehicle: 'Buggy' },
    ];
    expect(lookAlikesOf('16', cars)).toEqual([
      { carNumber: '016', vehicle: 'Estate', colour: 'red', kind: 'zeros' },
      { carNumber: '91', vehicle: 'Roadster', colour: undefined, kind: 'characters' },
      { carNumber: '61', vehicle: 'Saloon', colour: 'blue', kind: 'swapped' },
    ]);
  });
});
