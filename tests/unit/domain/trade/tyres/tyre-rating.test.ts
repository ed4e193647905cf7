import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  capacityAtSpeedKg,
  parseTyreRating,
  ratingCovers,
  TYRE_RATING,
} from '../../../../../src/domain/trade/tyres/tyre-rating.ts';
import {
  compareSpeedSymbols,
  loadOfIndex,
  loadPercentAtSpeed,
  speedOfSymbol,
} from '../../../../../src/domain/trade/tyres/tyre-rating-tables.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const SYMBOLS = ['L', 'M', 'N', 'P', 'Q', 'R', 'S', 'T', 'U', 'H', 'V', 'W', 'Y', 'ZR'];
const arbSymbol = fc.constantFrom(...SYMBOLS);
const arbIndex = fc.integer({ min: 60, max: 123 });

describe('parseTyreRating', () => {
  it.each([
    ['91W', { loadIndex: 91, loadKg: 615, symbol: 'W', symbolKmh: 270, openEnded: false, extraLoad: false }],
    ['(91W)', { loadIndex: 91, symbol: 'W', symbolKmh: 270, openEnded: true }],
    ['91V XL', { loadIndex: 91, symbol: 'V', extraLoad: true }],
    ['94ZR', { loadIndex: 94, symbol: 'ZR', symbolKmh: 240, openEnded: true }],
    ['(95Y)', { loadIndex: 95, symbol: 'Y', symbolKmh: 300, openEnded: true }],
    ['95 y', { loadIndex: 95, symbol: 'Y', openEnded: false }],
    ['121/119Q', { loadIndex: 121, twinLoadIndex: 119, loadKg: 1450, symbol: 'Q' }],
    ['(95Y) XL', { loadIndex: 95, openEnded: true, extraLoad: true }],
  ])('reads %s', (text, expected) => {
    expect(parseTyreRating(text)).toMatchObject(expected);
  });

  it.each([
    ['', 'bad-form'],
    ['W91', 'bad-form'],
    ['91', 'bad-form'],
    ['(91W', 'bad-form'],
    ['91W)', 'bad-form'],
    ['91WY', 'bad-form'],
    ['9W', 'bad-form'],
    ['1234W', 'bad-form'],
    ['59W', 'unknown-load-index'],
    ['124Q', 'unknown-load-index'],
    ['121/200Q', 'unknown-load-index'],
    ['91X', 'unknown-speed-symbol'],
    ['91Z', 'unknown-speed-symbol'],
    ['91K', 'unknown-speed-symbol'],
  ])('refuses %j as %s', (text, code) => {
    expect(faultsOf(() => parseTyreRating(text))).toMatchObject([{ pointer: '/rating', code }]);
    expect(ratingCovers(text, 800, 200)).toBeUndefined();
  });
});

describe('tables', () => {
  it('a higher load index carries more', () => {
    for (let index = 60; index < 123; index += 1) {
      expect(loadOfIndex(index + 1) ?? 0).toBeGreaterThan(loadOfIndex(index) ?? Number.POSITIVE_INFINITY);
    }
    expect([59, 124, 91.5, Number.NaN].map(loadOfIndex)).toEqual([undefined, undefined, undefined, undefined]);
  });

  it('symbols order by speed; H is not where the alphabet has it', () => {
    expect(['Y', 'H', 'V', 'U', 'T', 'W'].toSorted((a, b) => compareSpeedSymbols(a, b) ?? 0)).toEqual([
      'T',
      'U',
      'H',
      'V',
      'W',
      'Y',
    ]);
    expect(compareSpeedSymbols('H', 'X')).toBeUndefined();
    expect(['toString', '__proto__', 'constructor'].map(speedOfSymbol)).toEqual([undefined, undefined, undefined]);
  });

  it('never carries more at more speed, nor less than its last point', () => {
    const speed = fc.double({ min: 1, max: 400, noNaN: true });
    fc.assert(
      fc.property(arbSymbol, speed, speed, (symbol, a, b) => {
        const [slow, fast] = [Math.min(a, b), Math.max(a, b)];
        const percent = loadPercentAtSpeed(symbol, fast);
        expect(percent).toBeLessThanOrEqual(loadPercentAtSpeed(symbol, slow));
        expect(percent).toBeGreaterThanOrEqual(85);
      }),
    );
  });

  it('loses nothing up to H', () => {
    expect(['S', 'T', 'U', 'H'].map((symbol) => loadPercentAtSpeed(symbol, 210))).toEqual([100, 100, 100, 100]);
  });
});

describe('ratingCovers', () => {
  it('judges half of the axle per tyre, equal is enough', () => {
    expect(ratingCovers('91H', 1230, 200)).toEqual({
      loadOk: true,
      speedOk: true,
      capacityKg: 615,
      symbolKmh: 210,
      openEnded: false,
    });
    expect(ratingCovers('91H', 1231, 200)?.loadOk).toBe(false);
    expect(ratingCovers('91H', 1230, 210)?.speedOk).toBe(true);
    expect(ratingCovers('91H', 1230, 211)?.speedOk).toBe(false);
  });

  it('sees the loss of load near the top', () => {
    expect(ratingCovers('91V', 1200, 210)?.loadOk).toBe(true);
    expect(ratingCovers('91V', 1200, 240)?.loadOk).toBe(false);
  });

  it('what brackets and ZR promise beyond their symbol does not count', () => {
    expect(ratingCovers('(95Y)', 900, 310)).toMatchObject({ speedOk: false, openEnded: true });
    expect(ratingCovers('94ZR', 900, 241)).toMatchObject({ speedOk: false, openEnded: true });
    expect(ratingCovers('94ZR', 900, 240)?.speedOk).toBe(true);
  });

  it.each([0, -1, Number.NaN])('no answer for a load or speed of %s', (value) => {
    expect(ratingCovers('91W', value, 200)).toBeUndefined();
    expect(ratingCovers('91W', 900, value)).toBeUndefined();
  });

  it('more load or speed never turns no into yes', () => {
    const load = fc.integer({ min: 100, max: 3000 });
    const speed = fc.integer({ min: 50, max: 350 });
    fc.assert(
      fc.property(
        arbIndex,
        arbSymbol,
        load,
        speed,
        fc.nat(500),
        fc.nat(100),
        (index, symbol, kg, kmh, more, faster) => {
          const light = ratingCovers(`${index}${symbol}`, kg, kmh);
          const heavy = ratingCovers(`${index}${symbol}`, kg + more, kmh + faster);
          expect(Number(heavy?.loadOk)).toBeLessThanOrEqual(Number(light?.loadOk));
          expect(Number(heavy?.speedOk)).toBeLessThanOrEqual(Number(light?.speedOk));
        },
      ),
    );
  });
});

describe('tyre-rating', () => {
  const run = (body: object) =>
    runCalculation(TYRE_RATING, { rating: '91V', axleLoadKg: 900, topSpeedKmh: 225, ...body });

  it('works its example', () => {
    expect(runCalculation(TYRE_RATING, TYRE_RATING.example).result).toMatchObject({
      ratedLoadKg: 615,
      capacityPercent: 95.5,
      capacityKg: 587.3,
      tyreLoadKg: 450,
      loadOk: true,
      speedOk: true,
    });
  });

  it('takes the heavier wheel, and mph', () => {
    expect(run({ heavierWheelKg: 600 }).result).toMatchObject({ tyreLoadKg: 600, loadOk: false });
    expect(run({ topSpeedKmh: { value: 150, unit: 'mph' } }).result.speedOk).toBe(false);
  });

  it.each([
    [{ heavierWheelKg: 901 }, '/heavierWheelKg', 'beyond-axle'],
    [{ heavierWheelKg: 449 }, '/heavierWheelKg', 'lighter-wheel'],
    [{ carKg: 899 }, '/axleLoadKg', 'beyond-car'],
    [{ rating: '91' }, '/rating', 'bad-form'],
  ])('refuses %j at %s', (body, pointer, code) => {
    expect(faultsOf(() => run(body))).toMatchObject([{ pointer, code }]);
  });

  it('says what of Y is from memory, and takes another value', () => {
    const y = { rating: '91Y', topSpeedKmh: 285 };
    expect(run(y).result.capacityPercent).toBe(92.5);
    expect(run(y).assumptions).toContainEqual({ name: 'yFullUpToKmh', value: '270 km/h', standing: 'from-memory' });
    expect(run({ ...y, yFullUpToKmh: 240 }).result.capacityPercent).toBe(88.8);
    expect(capacityAtSpeedKg(parseTyreRating('91Y'), 300)).toBeCloseTo(615 * 0.85, 9);
  });

  it('says where only the maker knows', () => {
    const names = run({ rating: '121/119ZR' }).assumptions.map(({ name }) => name);
    expect(names).toEqual(expect.arrayContaining(['speed above the symbol', 'two load indices']));
  });
});
