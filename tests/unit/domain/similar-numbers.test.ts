import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { similarNumbers } from '../../../src/domain/look-alikes.ts';

describe('numbers that may have been meant', () => {
  test.each([
    ['7', ['07', '007'], ['007', '07'], 'leading zeros'],
    ['a7', ['A7'], ['A7'], 'letter case'],
    ['12', ['21'], ['21'], 'two digits swapped'],
    ['16', ['19'], ['19'], '6 for 9'],
    ['86', ['98'], ['98'], 'read upside down'],
    ['16', ['91'], ['91'], 'read upside down'],
    ['69', ['96'], ['96'], '6 and 9, both'],
    ['lO', ['10'], ['10'], 'two confusions at once'],
    ['B5', ['8S'], ['8S'], 'B for 8 and 5 for S'],
    ['81', ['18'], ['18'], 'swapped'],
    ['101', ['10'], ['10'], 'one digit too many'],
    ['42', ['43'], ['43'], 'one digit wrong'],
    ['42', ['142', '4', '421'], ['142', '4', '421'], 'one digit too many or too few'],
    ['42', ['99', '777', '1234'], [], 'nothing in common'],
    ['0', ['00', '000'], ['00', '000'], 'zero is a number too'],
    ['', ['7'], ['7'], 'nothing typed'],
  ])('%j among %j: %j (%s)', (asked, known, expected) => {
    expect(similarNumbers(asked, known)).toEqual(expected);
  });

  test('are the closest first: zeros and case, then swaps and 6 for 9, then one wrong digit', () => {
    expect(similarNumbers('16', ['17', '61', '016', '19', '116'])).toEqual(['016', '19', '61', '116', '17']);
  });

  test('are at most six, each once', () => {
    const known = ['10', '11', '12', '13', '14', '15', '16', '17', '10'];
    const similar = similarNumbers('1', known);
    expect(similar).toHaveLength(6);
    expect(new Set(similar).size).toBe(6);
  });
});

/** Optimal string alignment distance (Damerau 1964; Wagner and Fischer 1974, with adjacent swaps), written from the recurrence. */
function editDistance(a: string, b: string): number {
  const d = Array.from({ length: a.length + 1 }, (_, i) =>
    Array.from({ length: b.length + 1 }, (__, j) => (i === 0 ? j : j === 0 ? i : 0)),
  );
  const cell = (i: number, j: number) => d[i]?.[j] ?? Number.POSITIVE_INFINITY;
  for (let i = 1; i <= a.length; i += 1) {
    for (let j = 1; j <= b.length; j += 1) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      const swap =
        i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]
          ? cell(i - 2, j - 2) + 1
          : Number.POSITIVE_INFINITY;
      (d[i] as number[])[j] = Math.min(cell(i - 1, j) + 1, cell(i, j - 1) + 1, cell(i - 1, j - 1) + same, swap);
    }
  }
  return cell(a.length, b.length);
}

describe('for any numbers', () => {
  const number = fc.stringMatching(/^[0-9aA]{1,4}$/);
  const fold = (text: string) => text.toLowerCase().replace(/^0+(?=.)/, '');
  /** Read in a poor light: 9 as 6; and turned around, which only a number with 6 or 9 can be. */
  const read = (text: string) => text.replaceAll('9', '6');
  const turned = (text: string) => {
    const swapped = [...text].reverse().map((digit) => ({ 6: '9', 9: '6' })[digit] ?? digit);
    return /^[01689]*[69][01689]*$/.test(text) ? swapped.join('') : '?';
  };

  test('one is similar exactly when it is one slip away, and never the number itself', () => {
    fc.assert(
      fc.property(number, number, (asked, known) => {
        const [a, b] = [fold(asked), fold(known)];
        const oneSlip = asked !== known && (editDistance(a, b) <= 1 || read(a) === read(b) || turned(asked) === known);
        expect(similarNumbers(asked, [known])).toEqual(oneSlip ? [known] : []);
      }),
      { numRuns: 5000 },
    );
  });

  test('similarity goes both ways', () => {
    fc.assert(
      fc.property(number, number, (a, b) => {
        expect(similarNumbers(a, [b]).length).toBe(similarNumbers(b, [a]).length);
      }),
    );
  });
});
