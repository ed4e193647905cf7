import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  findOilLevelDoubts,
  OIL_LEVEL,
  type OilLevelReading,
  oilLevelSays,
} from '../../../../../src/domain/trade/fluids/oil-level.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

// common practice, no source: hot, 5 to 10 minutes after shutdown; lower half when hot is low
const level = (changes: Partial<OilLevelReading>): OilLevelReading => ({
  reading: 0.8,
  atOperatingTemperature: true,
  minutesSinceShutdown: 7,
  sump: 'wet',
  ...changes,
});

describe('oilLevelSays', () => {
  it.each([
    [-0.01, 'below-minimum'],
    [0, 'low-when-hot'],
    [0.49, 'low-when-hot'],
    [0.5, 'ok'],
    [1, 'ok'],
    [1.01, 'overfilled'],
    [Number.NaN, 'read-again'],
  ])('%s of the band: %s', (reading, says) => {
    expect(oilLevelSays(level({ reading }))).toBe(says);
  });

  it.each([
    [{ minutesSinceShutdown: 4.9 }, ['too-soon']],
    [{ minutesSinceShutdown: 5 }, []],
    [{ minutesSinceShutdown: 10 }, []],
    [{ minutesSinceShutdown: 10.1 }, ['too-late']],
    [{ minutesSinceShutdown: undefined }, ['time-unknown']],
    [{ atOperatingTemperature: false }, ['not-hot']],
    [{ atOperatingTemperature: undefined, minutesSinceShutdown: 0 }, ['temperature-unknown', 'too-soon']],
    [{ sump: 'dry', minutesSinceShutdown: undefined }, []],
    [{ sump: 'dry', minutesSinceShutdown: 300 }, []],
    [{ sump: 'dry', atOperatingTemperature: false }, ['not-hot']],
  ] as const)('%j: doubts %j', (changes, doubts) => {
    expect(findOilLevelDoubts(level(changes))).toEqual(doubts);
    expect(oilLevelSays(level(changes)) === 'read-again').toBe(doubts.length > 0);
  });

  it('what is not known never makes a level ok', () => {
    const reading = fc.double({ min: -2, max: 4, noNaN: true });
    const keys = fc.constantFrom('atOperatingTemperature' as const, 'minutesSinceShutdown' as const);
    fc.assert(
      fc.property(reading, keys, (value, key) => {
        expect(oilLevelSays(level({ reading: value, [key]: undefined }))).toBe('read-again');
      }),
    );
  });
});

describe('oil-level', () => {
  it('works its example', () => {
    expect(runCalculation(OIL_LEVEL, OIL_LEVEL.example).result).toEqual({
      valid: true,
      doubts: [],
      says: 'low-when-hot',
      litresToUpperMark: 0.9,
    });
  });

  it('gives no litres for a reading that cannot be judged', () => {
    const { result } = runCalculation(OIL_LEVEL, { reading: 1.4, atOperatingTemperature: true, bandLitres: 1 });
    expect(result).toEqual({ valid: false, doubts: ['time-unknown'], says: 'read-again', litresToUpperMark: null });
  });

  it('drains what is above the mark', () => {
    const body = { reading: 1.4, atOperatingTemperature: true, minutesSinceShutdown: 6, bandLitres: 1 };
    expect(runCalculation(OIL_LEVEL, body).result).toMatchObject({ says: 'overfilled', litresToUpperMark: -0.4 });
  });

  it('takes another window and names the usual one as practice', () => {
    const body = { reading: 0.7, atOperatingTemperature: true, minutesSinceShutdown: { value: 120, unit: 's' } };
    const own = runCalculation(OIL_LEVEL, { ...body, fromMinutes: 1, toMinutes: 3 });
    expect(own.result.says).toBe('ok');
    expect(own.assumptions).toEqual([]);
    const usual = runCalculation(OIL_LEVEL, body);
    expect(usual.result.doubts).toEqual(['too-soon']);
    expect(usual.assumptions.map(({ standing }) => standing)).toEqual(['common-practice', 'common-practice']);
    expect(runCalculation(OIL_LEVEL, { ...body, sump: 'dry' }).assumptions).toHaveLength(1);
  });

  it('refuses a window that ends before it begins', () => {
    expect(faultsOf(() => runCalculation(OIL_LEVEL, { reading: 0.5, fromMinutes: 11 }))).toMatchObject([
      { pointer: '/fromMinutes', code: 'window-crossed' },
    ]);
  });
});
