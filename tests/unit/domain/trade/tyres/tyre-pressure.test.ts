import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  coldPressureForHotKpa,
  hotPressureKpa,
  TYRE_PRESSURE,
} from '../../../../../src/domain/trade/tyres/tyre-pressure.ts';
import { standardAtmosphereKpa } from '../../../../../src/domain/trade/standard-atmosphere.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const SEA = 101.325;
const real = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const pressure = real(0, 800);
const temperature = real(-40, 150);
const air = real(60, 105);

describe('hotPressureKpa', () => {
  it('is higher the hotter it gets', () => {
    fc.assert(
      fc.property(pressure, temperature, temperature, real(0.1, 50), air, (cold, from, to, more, atm) => {
        expect(hotPressureKpa(cold, from, to + more, atm)).toBeGreaterThan(hotPressureKpa(cold, from, to, atm));
      }),
    );
  });

  it('comes back cold, and stays where the temperature does', () => {
    fc.assert(
      fc.property(pressure, temperature, temperature, air, (cold, from, to, atm) => {
        const hot = hotPressureKpa(cold, from, to, atm);
        expect(coldPressureForHotKpa(hot, from, to, atm)).toBeCloseTo(cold, 6);
        expect(hotPressureKpa(cold, from, from, atm)).toBeCloseTo(cold, 6);
      }),
    );
  });

  it('keeps p/T on the absolute scales', () => {
    fc.assert(
      fc.property(pressure, temperature, temperature, air, (cold, from, to, atm) => {
        const hot = hotPressureKpa(cold, from, to, atm);
        expect((hot + atm) / (to + 273.15)).toBeCloseTo((cold + atm) / (from + 273.15), 9);
      }),
    );
  });

  it.each([
    [[100, -273.15, 20, SEA], '/fromC', 'below-absolute-zero'],
    [[100, 20, -300, SEA], '/toC', 'below-absolute-zero'],
    [[100, Number.NaN, 20, SEA], '/fromC', 'below-absolute-zero'],
    [[-102, 20, 60, SEA], '/coldKpa', 'no-air'],
  ] as const)('refuses %j at %s', ([cold, from, to, atm], pointer, code) => {
    expect(faultsOf(() => hotPressureKpa(cold, from, to, atm))).toMatchObject([{ pointer, code }]);
  });
});

describe('standardAtmosphereKpa', () => {
  it('falls with altitude', () => {
    expect(standardAtmosphereKpa(0)).toBe(SEA);
    fc.assert(
      fc.property(real(-500, 4000), real(1, 900), (metres, more) => {
        expect(standardAtmosphereKpa(metres + more)).toBeLessThan(standardAtmosphereKpa(metres));
      }),
    );
  });
});

describe('tyre-pressure', () => {
  const run = (body: object) => runCalculation(TYRE_PRESSURE, { coldC: 20, hotC: 80, ...body });

  it('forecasts hot, and gives the cold pressure for that', () => {
    const forecast = run({ coldKpa: 180 }).result;
    // (180 + 101.325)·353.15/293.15 − 101.325
    expect(forecast.hotKpa).toBe(237.6);
    expect(run({ hotKpa: forecast.hotKpa }).result.coldKpa).toBe(180);
    expect(runCalculation(TYRE_PRESSURE, TYRE_PRESSURE.example).result.hotKpa).toBeGreaterThan(180);
  });

  it('takes any unit', () => {
    const psi = run({
      coldKpa: { value: 26, unit: 'psi' },
      coldC: { value: 68, unit: '°F' },
      hotC: { value: 176, unit: '°F' },
    });
    expect(psi.result).toMatchObject({ coldPsi: 26, coldKpa: 179.3 });
    expect(psi.result.hotKpa).toBe(run({ coldKpa: 26 * 6.894757293168361 }).result.hotKpa);
  });

  it('names the air pressure it assumed, and only then', () => {
    const assumed = (body: object) => run({ coldKpa: 180, ...body }).assumptions.map(({ value }) => value);
    expect(assumed({})[0]).toContain('at sea level');
    expect(assumed({ altitudeM: 1000 })[0]).toContain('at 1000 m');
    expect(assumed({ atmosphereKpa: 95 })).toHaveLength(1);
  });

  it('warns when hot is colder than cold', () => {
    expect(run({ coldKpa: 180, coldC: 20, hotC: -25 }).cautions).toHaveLength(1);
  });

  it.each([
    [{}, '/coldKpa', 'missing'],
    [{ coldKpa: 180, hotKpa: 200 }, '/hotKpa', 'given-twice'],
    [{ coldKpa: 180, atmosphereKpa: 100, altitudeM: 0 }, '/altitudeM', 'given-twice'],
    [{ hotKpa: 5, coldC: -20, hotC: 90 }, '/hotKpa', 'below-atmosphere'],
  ])('refuses %j at %s', (body, pointer, code) => {
    expect(faultsOf(() => run(body))).toMatchObject([{ pointer, code }]);
  });

  it.each([
    [{ coldKpa: -1 }],
    [{ coldKpa: 180, hotC: 900 }],
    [{ coldKpa: { value: 2, unit: 'mm' } }],
    [{ coldKpa: 180, more: 1 }],
  ])('does not take %j', (body) => {
    expect(TYRE_PRESSURE.input.safeParse({ coldC: 20, hotC: 80, ...body }).success).toBe(false);
  });
});
