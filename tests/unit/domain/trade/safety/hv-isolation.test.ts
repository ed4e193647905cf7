import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { NotComputable } from '../../../../../src/domain/trade/calculation.ts';
import {
  HV_ISOLATION,
  HV_SYSTEMS,
  type IsolationReadings,
  isolationFromReadings,
  isolationLimit,
  isolationNeeded,
  ohmPerVolt,
} from '../../../../../src/domain/trade/safety/hv-isolation.ts';

const faultOf = (run: () => unknown): string => {
  try {
    run();
  } catch (error) {
    if (error instanceof NotComputable) return `${error.faults[0]?.pointer} ${error.faults[0]?.code}`;
    throw error;
  }
  return 'none';
};
const compute = (input: unknown) => HV_ISOLATION.compute(HV_ISOLATION.input.parse(input));
const READINGS: IsolationReadings = {
  knownResistorOhm: 40_000,
  busVoltageV: 400,
  poleVoltageV: 220,
  poleVoltageWithResistorV: 150,
};

describe('isolationFromReadings', () => {
  it.each<[Partial<IsolationReadings>, string]>([
    [{ poleVoltageV: 401 }, '/readings/poleVoltage above-bus'],
    [{ poleVoltageV: 199 }, '/readings/poleVoltage smaller-pole'],
    [{ poleVoltageWithResistorV: 220 }, '/readings/poleVoltageWithResistor no-drop'],
    [{ poleVoltageWithResistorV: 0 }, '/readings/poleVoltageWithResistor not-positive'],
    [{ knownResistorOhm: Number.NaN }, '/readings/knownResistor not-positive'],
  ])('refuses %j', (change, expected) => {
    expect(faultOf(() => isolationFromReadings({ ...READINGS, ...change }))).toBe(expected);
  });

  it('finds the resistances of a modelled bus again', () => {
    const arbOhm = fc.double({ min: 1e3, max: 1e7, noNaN: true });
    fc.assert(
      fc.property(arbOhm, arbOhm, arbOhm, fc.double({ min: 60, max: 1000, noNaN: true }), (a, b, resistor, bus) => {
        // the larger voltage is across the larger of the two isolation resistances; the formula gives the smaller one
        const [large, small] = a > b ? [a, b] : [b, a];
        const parallel = (large * resistor) / (large + resistor);
        const measured = isolationFromReadings({
          knownResistorOhm: resistor,
          busVoltageV: bus,
          poleVoltageV: (bus * large) / (large + small),
          poleVoltageWithResistorV: (bus * parallel) / (parallel + small),
        });
        expect(Math.abs(measured / small - 1)).toBeLessThan(1e-6 + (1e-9 * large) / resistor);
      }),
    );
  });
});

describe('isolation limits', () => {
  it('never ask for less of alternating than of direct current', () => {
    for (const system of HV_SYSTEMS) expect(isolationLimit(system)).toBeGreaterThanOrEqual(isolationLimit('dc'));
    expect(isolationLimit('ac', true)).toBe(500); // protection counts only where both are connected
  });

  it('agree with the resistance needed', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1500 }), fc.constantFrom(...HV_SYSTEMS), (voltage, system) => {
        expect(ohmPerVolt(isolationNeeded(voltage, system), voltage)).toBeCloseTo(isolationLimit(system), 9);
      }),
    );
  });

  it('refuse what cannot be', () => {
    expect(faultOf(() => ohmPerVolt(-1, 400))).toBe('/resistance negative');
    expect(faultOf(() => ohmPerVolt(1, 0))).toBe('/workingVoltage not-positive');
    expect(faultOf(() => isolationNeeded(Number.NaN, 'dc'))).toBe('/workingVoltage not-positive');
  });
});

describe('hv-isolation', () => {
  it('fails at a hair below the limit and passes on it', () => {
    const at = (resistance: number) => compute({ workingVoltage: 400, system: 'dc', resistance }).result.isolated;
    expect([at(39_999), at(40_000), at(0)]).toEqual([false, true, false]);
  });

  it('takes the stricter limit where nothing is said about the alternating-current part', () => {
    const input = { workingVoltage: 400, system: 'connected', resistance: 60_000 };
    expect(compute(input).result).toMatchObject({ ohmPerVolt: 150, limitOhmPerVolt: 500, isolated: false });
    expect(compute(input).assumptions).toHaveLength(1);
    expect(compute({ ...input, acProtected: true }).result).toMatchObject({ limitOhmPerVolt: 100, isolated: true });
  });

  it('computes from readings, and says when the resistor is far from what it should be', () => {
    const readings = { knownResistor: 40_000, busVoltage: 400, poleVoltage: 200, poleVoltageWithResistor: 160 };
    const good = compute({ workingVoltage: 400, system: 'dc', readings });
    expect(good.result).toMatchObject({ resistanceOhm: 20_000, ohmPerVolt: 50, isolated: false });
    expect(good.steps[0]?.numbers).toBe('40000 Ω·400 V·(1/160 V − 1/200 V)');
    expect(good.cautions).toHaveLength(1);
    const far = compute({ workingVoltage: 400, system: 'dc', readings: { ...readings, knownResistor: 60_000 } });
    expect(far.cautions).toHaveLength(2);
  });

  it('wants either a resistance or readings', () => {
    expect(faultOf(() => compute({ workingVoltage: 400, system: 'dc' }))).toBe(' one-of');
  });
});
