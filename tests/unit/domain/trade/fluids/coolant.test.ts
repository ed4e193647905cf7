import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  antoineBoilingC,
  boilingUnderPressureC,
  glycolBoilingAtSeaLevelC,
  glycolFreezingC,
  glycolPercentsFor,
  MMHG_PER_KPA,
  rootsAt,
  valueAt,
  waterBoilingC,
  waterBoilingKpa,
} from '../../../../../src/domain/trade/fluids/coolant-glycol.ts';
import {
  COOLANT,
  COOLANT_MIX,
  glycolBand,
  ruleOfThumbBoilingF,
  waterBoilingUnderCapC,
} from '../../../../../src/domain/trade/fluids/coolant.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const SEA = 101.325;
const real = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const cap = real(0, 250);
const glycol = fc.constantFrom('ethylene' as const, 'propylene' as const);

describe('water', () => {
  it('boils hotter under more pressure', () => {
    fc.assert(
      fc.property(real(1, 20_000), real(0.01, 500), (kpa, more) => {
        expect(waterBoilingC(kpa + more)).toBeGreaterThan(waterBoilingC(kpa));
      }),
    );
  });

  it('pressure and temperature are each other backwards', () => {
    fc.assert(
      fc.property(real(1, 370), (celsius) => {
        expect(waterBoilingC(waterBoilingKpa(celsius))).toBeCloseTo(celsius, 6);
      }),
    );
  });

  it('Antoine is within 0.3 °C of the steam table in a cooling system', () => {
    fc.assert(
      fc.property(real(60, 400), (kpa) => {
        const antoine = antoineBoilingC(kpa * MMHG_PER_KPA, kpa > SEA ? 'high' : 'low');
        expect(Math.abs(antoine - waterBoilingC(kpa))).toBeLessThan(0.3);
      }),
    );
  });

  it.each([0, -5, 30_000, Number.NaN])('refuses %s kPa', (kpa) => {
    expect(faultsOf(() => waterBoilingC(kpa))).toMatchObject([{ code: 'outside-steam-table' }]);
  });

  it.each([-1, 400, Number.NaN])('refuses %s °C', (celsius) => {
    expect(faultsOf(() => waterBoilingKpa(celsius))).toMatchObject([{ code: 'outside-steam-table' }]);
  });

  // the rule less the steam table
  it.each([
    [5, 0],
    [15, 7],
    [20, 13],
    [30, 28],
  ])('the rule of thumb at %s psi promises %s °F too much', (psi, tooMuch) => {
    const water = waterBoilingUnderCapC(psi * 6.894757, SEA) * 1.8 + 32;
    expect(Math.abs(ruleOfThumbBoilingF(212, psi) - water - tooMuch)).toBeLessThan(1);
  });
});

describe('glycol', () => {
  it('boils hotter with more glycol and with more pressure', () => {
    fc.assert(
      fc.property(glycol, real(0, 65), real(0.1, 5), cap, real(0.1, 50), (kind, percent, more, gauge, harder) => {
        const at = glycolBoilingAtSeaLevelC(kind, percent);
        expect(glycolBoilingAtSeaLevelC(kind, percent + more)).toBeGreaterThan(at);
        const boils = boilingUnderPressureC(at, SEA + gauge);
        expect(boilingUnderPressureC(at, SEA + gauge + harder)).toBeGreaterThan(boils);
        expect(boils).toBeGreaterThanOrEqual(waterBoilingC(SEA + gauge) - 1e-6);
      }),
    );
  });

  it('without glycol and at 1 atm it is what it was', () => {
    expect(glycolBoilingAtSeaLevelC('ethylene', 0)).toBeCloseTo(waterBoilingC(SEA), 9);
    fc.assert(
      fc.property(real(100, 200), (boils) => {
        expect(boilingUnderPressureC(boils, SEA)).toBeCloseTo(boils, 6);
      }),
    );
  });

  it('knows no boiling point above 70 %', () => {
    expect(faultsOf(() => glycolBoilingAtSeaLevelC('ethylene', 70.1))).toMatchObject([
      { pointer: '/glycolPercent', code: 'beyond-model' },
    ]);
  });

  it('every root freezes at its temperature', () => {
    fc.assert(
      fc.property(glycol, real(-50, -0.1), (kind, celsius) => {
        const percents = glycolPercentsFor(kind, celsius);
        expect(percents).toEqual(percents.toSorted((a, b) => a - b));
        for (const percent of percents) expect(glycolFreezingC(kind, percent)).toBeCloseTo(celsius, 6);
      }),
    );
  });

  it('ethylene freezes earlier again with too much', () => {
    expect(glycolPercentsFor('ethylene', -45)).toEqual([57, 80]);
    expect(glycolFreezingC('ethylene', 100) ?? 0).toBeGreaterThan(glycolFreezingC('ethylene', 50) ?? 0);
    expect(glycolPercentsFor('ethylene', -10)).toEqual([28.4]);
    expect(glycolPercentsFor('ethylene', -51)).toEqual([]);
    expect(glycolFreezingC('propylene', 51)).toBeUndefined();
  });

  it('reads curves at their points, between and outside', () => {
    const curve = [
      [0, 1],
      [2, 5],
      [4, 5],
    ] as const;
    expect([0, 1, 2, 3, 4, 5, -1].map((x) => valueAt(curve, x))).toEqual([1, 3, 5, 5, 5, undefined, undefined]);
    expect(rootsAt(curve, 3)).toEqual([1]);
    expect(rootsAt(curve, 6)).toEqual([]);
  });

  it('a band protects everywhere in it', () => {
    fc.assert(
      fc.property(real(-50, -0.1), real(0, 1), (celsius, part) => {
        const { leastPercent, mostPercent } = glycolBand('ethylene', celsius);
        const percent = leastPercent + ((mostPercent ?? Number.NaN) - leastPercent) * part;
        expect(glycolFreezingC('ethylene', percent) ?? 0).toBeLessThanOrEqual(celsius + 1e-6);
      }),
    );
  });
});

describe('coolant', () => {
  const run = (body: object) => runCalculation(COOLANT, { capKpa: 103.421, ...body });

  it('water under a 15 psi cap: 250 °F, where the rule says 257', () => {
    expect(run({}).result).toMatchObject({
      boilingF: 250,
      ruleOfThumbF: 257,
      ruleOfThumbErrorF: 7,
      boilingAtSeaLevelC: 100,
      freezingC: 0,
      marginC: null,
    });
  });

  it('works its example', () => {
    const { result, assumptions } = runCalculation(COOLANT, COOLANT.example);
    expect(result).toMatchObject({ boilingAtSeaLevelC: 106.1, freezingC: -35 });
    expect(result.boilingWithoutCapC).toBeLessThan(106.1);
    expect(result.marginC).toBe(Math.round(result.boilingC - 110));
    expect(assumptions.map(({ name }) => name)).toEqual([
      'atmosphereKpa',
      'boilsAtSeaLevelC',
      'boiling under pressure',
      'freezesAtC',
    ]);
  });

  it('boils earlier higher up', () => {
    expect(run({ altitudeM: 1500 }).result.boilingC).toBeLessThan(run({}).result.boilingC);
  });

  it('takes what the container says in place of ours', () => {
    const own = run({ glycol: 'propylene', glycolPercent: 80, boilsAtSeaLevelC: 115, freezesAtC: -50 });
    expect(own.result).toMatchObject({ boilingAtSeaLevelC: 115, freezingC: -50 });
    expect(own.assumptions.map(({ name }) => name)).toEqual(['atmosphereKpa', 'boiling under pressure']);
    expect(run({ boilsAtSeaLevelC: 197 }).result.freezingC).toBeNull();
  });

  it('propylene is from memory', () => {
    const standings = run({ glycol: 'propylene', glycolPercent: 40 }).assumptions.map(({ standing }) => standing);
    expect(standings).toContain('from-memory');
  });

  it.each([
    [{ glycol: 'ethylene' }, '/glycolPercent', 'missing'],
    [{ glycol: 'ethylene', glycolPercent: 90 }, '/glycolPercent', 'beyond-model'],
    [{ glycolPercent: 50 }, '/glycol', 'which-glycol'],
    [{ altitudeM: 100, atmosphereKpa: 100 }, '/altitudeM', 'given-twice'],
  ])('refuses %j at %s', (body, pointer, code) => {
    expect(faultsOf(() => run(body))).toMatchObject([{ pointer, code }]);
  });

  it('warns of the hot cap', () => {
    expect(run({}).cautions.join(' ')).toContain('Never open a radiator');
  });
});

describe('coolant-mix', () => {
  it('works its example', () => {
    expect(runCalculation(COOLANT_MIX, COOLANT_MIX.example).result).toEqual({
      leastPercent: 47.8,
      mostPercent: 85,
      leastLitres: 3.82,
    });
  });

  it('has an upper end at the coldest point, and none but pure glycol where that protects too', () => {
    expect(glycolBand('ethylene', -50)).toEqual({ leastPercent: 59, mostPercent: 59 });
    expect(glycolBand('ethylene', -13).mostPercent).toBe(100);
    expect(glycolBand('ethylene', -13.1).mostPercent).toBeLessThan(100);
    expect(glycolBand('ethylene', -10)).toEqual({ leastPercent: 28.4, mostPercent: 100 });
    expect(glycolBand('propylene', -33.3)).toEqual({ leastPercent: 50, mostPercent: undefined });
  });

  it('knows no upper end of propylene', () => {
    const { result } = runCalculation(COOLANT_MIX, { glycol: 'propylene', freezingC: -20.6 });
    expect(result).toEqual({ leastPercent: 40, mostPercent: null, leastLitres: null });
  });

  it.each([
    [{ glycol: 'ethylene', freezingC: 0 }, 'not-below-zero'],
    [{ glycol: 'ethylene', freezingC: -51 }, 'colder-than-table'],
    [{ glycol: 'propylene', freezingC: -34 }, 'colder-than-table'],
  ])('refuses %j', (body, code) => {
    expect(faultsOf(() => runCalculation(COOLANT_MIX, body))).toMatchObject([{ pointer: '/freezingC', code }]);
  });
});
