import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  convert,
  convertDifference,
  dimensionOf,
  formatQuantity,
  isUnit,
  parseUnit,
  roundTo,
  UNITS,
  type Unit,
} from '../../../src/domain/quantity.ts';

const ALL_UNITS = Object.keys(UNITS) as Unit[];

describe('convert', () => {
  it.each<[number, Unit, number, Unit, string]>([
    [1, 'in', 25.4, 'mm', 'NIST SP 811 appendix B, exact'],
    [1, 'ft', 0.3048, 'm', 'NIST SP 811 appendix B, exact'],
    [1, 'mi', 1.609344, 'km', 'NIST SP 811 appendix B, international mile, exact'],
    [1, 'kgf·m', 9.80665, 'N·m', 'NIST SP 811 appendix B, exact'],
    [1, 'mph', 0.44704, 'm/s', 'arithmetic from the international mile, exact'],
    [1, '1/32in', 0.79375, 'mm', 'arithmetic from the inch, exact'],
    [2, '1/32in', 1.5875, 'mm', 'the tread limit 2/32 in, which is not 1.6 mm'],
    [0.25, 'in', 6.35, 'mm', '49 CFR 570.7(b), linkage play'],
    [0.125, 'in', 3.175, 'mm', '49 CFR 570.10(b), wheel runout'],
    [2, 'in', 50.8, 'mm', '49 CFR 570.7 table 1'],
    [2.25, 'in', 57.15, 'mm', '49 CFR 570.7 table 1'],
    [2.5, 'in', 63.5, 'mm', '49 CFR 570.7 table 1'],
    [2.75, 'in', 69.85, 'mm', '49 CFR 570.7 table 1'],
    [155, '°C', 311, '°F', '49 CFR 571.116, DOT 4 wet'],
    [230, '°C', 446, '°F', '49 CFR 571.116, DOT 4 dry'],
    [205, '°C', 401, '°F', '49 CFR 571.116, DOT 3 dry'],
    [140, '°C', 284, '°F', '49 CFR 571.116, DOT 3 wet'],
    [260, '°C', 500, '°F', '49 CFR 571.116, DOT 5.1 dry'],
    [180, '°C', 356, '°F', '49 CFR 571.116, DOT 5.1 wet'],
    [36, 'km/h', 10, 'm/s', 'definition'],
    [0, '°C', 273.15, 'K', 'definition'],
    [1, 'bar', 100, 'kPa', 'definition'],
    [1, 'MPa', 1000, 'kPa', 'definition'],
    [3, 'm', 300, 'cm', 'definition'],
    [2, 'h', 120, 'min', 'definition'],
    [1, 'day', 24, 'h', 'definition'],
    [2, 'year', 24, 'month', 'definition'],
    [0.5, '1', 50, '%', 'definition'],
    [0.5, 'kΩ/V', 500, 'Ω/V', 'definition'],
    [0.04, 'MΩ', 40, 'kΩ', 'definition'],
  ])('%d %s is exactly %d %s (%s)', (value, from, expected, to) => {
    expect(convert(value, from, to)).toBe(expected);
    expect(convert(expected, to, from)).toBeCloseTo(value, 12);
  });

  it.each<[number, Unit, number, Unit, number, string]>([
    [1, 'lb', 0.453592, 'kg', 6, 'NIST SP 811 appendix B, six digits'],
    [1, 'lbf', 4.44822, 'N', 5, 'NIST SP 811 appendix B, five digits'],
    [1, 'lbf·ft', 1.3558179483, 'N·m', 10, 'arithmetic from the foot and the pound-force'],
    [1, 'lbf·in', 0.112984829, 'N·m', 10, 'NIST SP 811 appendix B (0.112985)'],
    [1, 'psi', 6.894757, 'kPa', 6, 'NIST SP 811 appendix B'],
    [30, 'psi', 206.8, 'kPa', 1, 'tyre example of a university chemistry magazine'],
    [9, 'kgf·m', 88.3, 'N·m', 1, 'service manual, wheel nut torque'],
    [11, 'kgf·m', 107.9, 'N·m', 1, 'service manual, wheel nut torque'],
    [9, 'kgf·m', 65.1, 'lbf·ft', 1, 'service manual, wheel nut torque'],
    [11, 'kgf·m', 79.6, 'lbf·ft', 1, 'service manual, wheel nut torque'],
    [1929, 'lb', 875, 'kg', 0, 'load index 103 in pounds and in kilograms'],
    [15, 'psi', 103, 'kPa', 0, 'radiator cap marking in service manuals'],
  ])('%d %s is %d %s to %d decimals (%s)', (value, from, expected, to, decimals) => {
    expect(roundTo(convert(value, from, to) ?? Number.NaN, decimals)).toBe(expected);
  });

  it('uses the international mile, not the US survey mile that some pages print', () => {
    expect(convert(1, 'mi', 'km')).not.toBeCloseTo(1.609347, 6);
  });

  it('keeps a temperature apart from a difference of temperatures', () => {
    expect(convert(5, '°C', '°F')).toBe(41);
    expect(convertDifference(5, '°C', '°F')).toBe(9);
    expect(convertDifference(9, '°F', 'K')).toBe(5);
    expect(convertDifference(1, 'in', 'mm')).toBe(25.4);
    expect(convertDifference(1, 'in', 'kPa')).toBeUndefined();
  });

  it('refuses exactly the pairs of different dimensions', () => {
    for (const from of ALL_UNITS) {
      for (const to of ALL_UNITS) {
        expect(convert(1, from, to) === undefined).toBe(dimensionOf(from) !== dimensionOf(to));
      }
    }
    expect(convert(1, 'day', 'month')).toBeUndefined();
    expect(convert(1, 'N', 'kg')).toBeUndefined();
  });

  it('comes back to the same value', () => {
    const pair = fc.constantFrom(...ALL_UNITS).chain((from) => {
      const peers = ALL_UNITS.filter((unit) => dimensionOf(unit) === dimensionOf(from));
      return fc.tuple(fc.constant(from), fc.constantFrom(...peers));
    });
    fc.assert(
      fc.property(pair, fc.double({ min: -1e6, max: 1e6, noNaN: true }), ([from, to], value) => {
        const back = convert(convert(value, from, to) ?? Number.NaN, to, from) ?? Number.NaN;
        // an offset costs absolute precision: 500 is the size of the shifts between temperature scales
        expect(Math.abs(back - value)).toBeLessThanOrEqual(1e-14 * (Math.abs(value) + 500));
      }),
    );
  });
});

describe('parseUnit', () => {
  it.each([
    ['Nm', 'N·m'],
    ['N.m', 'N·m'],
    ['N m', 'N·m'],
    ['N⋅m', 'N·m'],
    ['ft-lb', 'lbf·ft'],
    ['lbf.in', 'lbf·in'],
    ['C', '°C'],
    ['degC', '°C'],
    ['℃', '°C'],
    ['° F', '°F'],
    ['ohm/V', 'Ω/V'],
    ['\u2126/V', 'Ω/V'],
    ['kohm/V', 'kΩ/V'],
    ['kmh', 'km/h'],
    ['inch', 'in'],
    ['"', 'in'],
    ['1/32 in', '1/32in'],
    ['dBA', 'dB(A)'],
    ['dB', undefined],
    ['mPa', undefined],
    ['nm', undefined],
    ['M', undefined],
    ['', undefined],
    ['constructor', undefined],
    ['__proto__', undefined],
    ['m'.repeat(1000), undefined],
  ])('reads %j as %j', (text, expected) => {
    expect(parseUnit(text)).toBe(expected);
  });

  it('knows its own canonical spellings', () => {
    for (const unit of ALL_UNITS) {
      expect(parseUnit(unit)).toBe(unit);
      expect(isUnit(unit)).toBe(true);
    }
    expect(isUnit('Nm')).toBe(false);
    expect(isUnit('toString')).toBe(false);
  });
});

describe('roundTo', () => {
  it.each([
    [1.005, 2, 1.01],
    [2.5, 0, 3],
    [-2.5, 0, -3],
    [3.949, 1, 3.9],
    [3.95, 1, 4],
    [0.1 + 0.2, 2, 0.3],
    [1e21, 2, 1e21],
    [1.5e-7, 2, 0],
    [-0.001, 2, 0],
    [123456789.125, 2, 123456789.13],
  ])('%d to %d decimals is %d', (value, decimals, expected) => {
    expect(roundTo(value, decimals)).toBe(expected);
  });

  it('changes nothing when done twice, and moves a value by half a step at most', () => {
    const size = fc.double({ min: -1e6, max: 1e6, noNaN: true });
    fc.assert(
      fc.property(size, fc.integer({ min: 0, max: 6 }), (value, decimals) => {
        const rounded = roundTo(value, decimals);
        expect(roundTo(rounded, decimals)).toBe(rounded);
        expect(Math.abs(rounded - value)).toBeLessThanOrEqual(0.5 * 10 ** -decimals + 1e-8);
      }),
    );
  });
});

describe('formatQuantity', () => {
  it.each<[number, Unit, string]>([
    [5.5, 'mm', '5.5 mm'],
    [0.1 + 0.2, 'mm', '0.3 mm'],
    [-1.5, 'deg', '-1.5°'],
    [0.5, '1', '0.5'],
    [5, '1/32in', '5/32 in'],
    [95, 'dB(A)', '95 dB(A)'],
  ])('writes %d %s as %s', (value, unit, expected) => {
    expect(formatQuantity(value, unit)).toBe(expected);
  });
});
