import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CATALOGUE } from '../../../src/domain/catalogue/catalogue.ts';
import type { SimpleAnswerType } from '../../../src/domain/catalogue/item.ts';
import { readAnswer } from '../../../src/domain/declaration/read-answer.ts';
import { convert, roundTo } from '../../../src/domain/quantity.ts';
import {
  type ChosenUnits,
  convertShown,
  kindOfUnit,
  readQuantity,
  shownUnit,
  showQuantity,
  UNIT_CHOICES,
} from '../../../src/web/shared/units.ts';

type NumberType = Extract<SimpleAnswerType, { kind: 'number' }>;
const NUMBERS: NumberType[] = CATALOGUE.flatMap(({ answer }) =>
  answer.kind === 'fields' ? Object.values(answer.fields).map(({ type }) => type) : [answer],
).filter((type) => type.kind === 'number');

const IMPERIAL: ChosenUnits = { length: '1/32in', temperature: '°F', pressure: 'psi', torque: 'lbf·ft' };

describe('a value in the unit of the device', () => {
  test('is judged as what was shown: read back, it is the same value', () => {
    const type = fc.constantFrom(...NUMBERS.filter(({ unit }) => kindOfUnit(unit) !== undefined));
    fc.assert(
      fc.property(type, fc.double({ min: 0, max: 1, noNaN: true }), (number, share) => {
        // away from the ends: a value rounded outwards there would be impossible, not another value
        const value = roundTo(number.min + (0.02 + share * 0.96) * (number.max - number.min), number.decimals);
        const kind = kindOfUnit(number.unit);
        for (const unit of kind === undefined ? [] : [...UNIT_CHOICES[kind], 'in' as const]) {
          if (convert(1, number.unit, unit) === undefined) continue;
          const shown = convertShown(value, number.unit, unit, number);
          expect(readAnswer(number, { value: shown, unit })).toEqual({ ok: true, value });
        }
      }),
    );
  });

  // 2/32 in is the tread limit of 49 CFR 570.9; 1/32 in is 0.79375 mm by definition (25.4 mm / 32).
  test.each([
    [1.6, 'mm', '1/32in', 1, '2/32 in'],
    [4, 'mm', '1/32in', 1, '5/32 in'],
    [5, 'mm', '1/32in', 1, '6.3/32 in'],
    [6, 'mm', '1/32in', 1, '7.6/32 in'],
    [100, '°C', '°F', 0, '212 °F'],
    [220, 'kPa', 'psi', 0, '31.9 psi'],
    [220, 'kPa', 'bar', 0, '2.2 bar'],
    [110, 'N·m', 'lbf·ft', 0, '81 lbf·ft'],
  ] as const)('%d %s in %s is short: %5$s', (value, from, to, decimals, text) => {
    expect(showQuantity(convertShown(value, from, to, { decimals }), to, 'en')).toBe(text);
  });

  test('a difference of temperatures has no zero', () => {
    expect(convertShown(5, '°C', '°F', { decimals: 0, difference: true })).toBe(9);
    expect(convertShown(5, '°C', '°F', { decimals: 0 })).toBe(41);
  });

  test('follows the choice; large lengths are inches, and metres stay metres', () => {
    expect(shownUnit('mm', 40, IMPERIAL)).toBe('1/32in');
    expect(shownUnit('mm', 700, IMPERIAL)).toBe('in');
    expect(shownUnit('m', 20, IMPERIAL)).toBe('m');
    expect(shownUnit('dB(A)', 100, IMPERIAL)).toBe('dB(A)');
    expect(shownUnit('kPa', 0, IMPERIAL)).toBe('psi');
  });
});

describe('a typed number', () => {
  test.each([
    ['3', 'mm', 3],
    ['3,5', 'mm', 3.5],
    [' 3.5 ', 'mm', 3.5],
    ['-1.5', 'mm', -1.5],
    ['−1,5', 'mm', -1.5],
    ['.5', 'mm', 0.5],
    ['3.', 'mm', 3],
    ['', 'mm', undefined],
    ['3.5.1', 'mm', undefined],
    ['1e5', 'mm', undefined],
    ['NaN', 'mm', undefined],
    ['0x10', 'mm', undefined],
    ['8mm', 'mm', 8],
    ['5,2 mm', '1/32in', 5.2, 'mm'],
    ['32 psi', 'kPa', 32, 'psi'],
    ['2,2 Bar', 'kPa', 2.2, 'bar'],
    ['32 PSI', 'bar', 32, 'psi'],
    ['110 Nm', 'lbf·ft', 110, 'N·m'],
    ['32 psi', 'mm', undefined],
    ['8 foo', 'mm', undefined],
    // a fraction: of what is counted, of an inch where inches are shown, and of nothing where millimetres are
    ['1/2', '1', 0.5],
    ['1 1/2', '1', 1.5],
    ['5/32', '1/32in', 5 / 32, 'in'],
    ['5/32"', 'mm', 5 / 32, 'in'],
    ['1/8 in', 'mm', 1 / 8, 'in'],
    ['1/2', 'mm', undefined],
    ['1/0', '1', undefined],
  ] as const)('%j beside %s is %s %s', (text, shown, value, ...[unit]) => {
    expect(readQuantity(text, shown)).toEqual(value === undefined ? undefined : { value, unit: unit ?? shown });
  });
});
