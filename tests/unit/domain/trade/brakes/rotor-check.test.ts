import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  checkCarbonRotor,
  checkIronRotor,
  ROTOR_CHECK,
  ROTOR_CRACKS,
  type RotorEffect,
  strongestEffect,
} from '../../../../../src/domain/trade/brakes/rotor-check.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const SOUND = { thicknessMm: 27, minimumThicknessMm: 26, cracks: 'none', dutyClass: 'light' } as const;
const iron = (change: object): RotorEffect => strongestEffect(checkIronRotor({ ...SOUND, ...change }));
const LIGHT = { weightG: 5700, minimumWeightG: 5600, edgeChipsMm: 0 } as const;
const carbon = (change: object): RotorEffect => strongestEffect(checkCarbonRotor({ ...LIGHT, ...change }));
const ORDER: readonly RotorEffect[] = ['none', 'advise', 'inspect', 'bar'];

describe('an iron rotor', () => {
  it.each<[string, object, RotorEffect]>([
    ['above the stamp', {}, 'none'],
    ['at the stamp', { thicknessMm: 26 }, 'none'],
    ['that reads as the stamp at 0.01 mm', { thicknessMm: 25.996 }, 'none'],
    ['0.01 mm below the stamp', { thicknessMm: 25.99 }, 'bar'],
    ['whose stamp is not known', { minimumThicknessMm: undefined }, 'bar'],
    ['whose stamp is nothing', { minimumThicknessMm: 0 }, 'bar'],
    ['not measured', { thicknessMm: undefined }, 'bar'],
    ['measured as no number', { thicknessMm: Number.NaN }, 'bar'],
    ['nobody looked at for cracks', { cracks: undefined }, 'bar'],
    ['with surface checks on light duty', { cracks: 'surface-checks' }, 'advise'],
    ['with surface checks on medium duty', { cracks: 'surface-checks', dutyClass: 'medium' }, 'advise'],
    ['with surface checks on heavy duty', { cracks: 'surface-checks', dutyClass: 'heavy' }, 'inspect'],
    ['with surface checks on severe duty', { cracks: 'surface-checks', dutyClass: 'severe' }, 'inspect'],
    ['with surface checks on unknown duty', { cracks: 'surface-checks', dutyClass: undefined }, 'inspect'],
    ['with an opening crack', { cracks: 'opening' }, 'bar'],
    ['with a crack to the edge', { cracks: 'to-edge' }, 'bar'],
  ])('%s', (_what, change, effect) => {
    expect(iron(change)).toBe(effect);
  });

  it('is judged no milder when it is thinner or cracked worse', () => {
    const sizes = fc.double({ min: 1, max: 60, noNaN: true });
    fc.assert(
      fc.property(sizes, sizes, sizes, fc.nat(3), fc.nat(3), (thicknessMm, minimumThicknessMm, thinnerMm, a, b) => {
        const better = iron({ thicknessMm, minimumThicknessMm, cracks: ROTOR_CRACKS[Math.min(a, b)] });
        const worse = iron({
          thicknessMm: thicknessMm - thinnerMm,
          minimumThicknessMm,
          cracks: ROTOR_CRACKS[Math.max(a, b)],
        });
        expect(ORDER.indexOf(worse)).toBeGreaterThanOrEqual(ORDER.indexOf(better));
      }),
    );
  });
});

describe('a carbon rotor', () => {
  it.each<[string, object, RotorEffect]>([
    ['above the stamp', {}, 'none'],
    ['at the stamp', { weightG: 5600 }, 'none'],
    ['1 g below the stamp', { weightG: 5599 }, 'bar'],
    ['whose stamp is not known', { minimumWeightG: undefined }, 'bar'],
    ['not weighed', { weightG: undefined }, 'bar'],
    ['with a chip at the limit', { edgeChipsMm: 3 }, 'none'],
    ['with a chip above the limit', { edgeChipsMm: 3.1 }, 'inspect'],
    ['with a chip above a stricter limit', { edgeChipsMm: 1, edgeChipLimitMm: 0.5 }, 'inspect'],
    ['whose edges nobody looked at', { edgeChipsMm: undefined }, 'inspect'],
  ])('%s', (_what, change, effect) => {
    expect(carbon(change)).toBe(effect);
  });
});

describe('the computation', () => {
  const rotor = (position: string, change: object = {}) => ({
    position,
    material: 'iron',
    thicknessMm: 27,
    minimumThicknessMm: 26,
    cracks: 'none',
    ...change,
  });

  it('works out its example', () => {
    const { result } = runCalculation(ROTOR_CHECK, ROTOR_CHECK.example);
    expect(result.effect).toBe('advise');
    expect(result.rotors.map(({ marginMm }) => marginMm)).toEqual([1.4, 1.5]);
  });

  it('takes the strongest effect of all rotors, and reads inches and pounds', () => {
    const { result } = runCalculation(ROTOR_CHECK, {
      rotors: [
        rotor('FL', { thicknessMm: { value: 1.05, unit: 'in' } }),
        {
          position: 'RL',
          material: 'carbon',
          weightG: { value: 12, unit: 'lb' },
          minimumWeightG: { value: 5600, unit: 'g' },
          edgeChipsMm: 0,
        },
      ],
    });
    expect(result.rotors.map(({ effect }) => effect)).toEqual(['none', 'bar']);
    expect(result.rotors[0]?.marginMm).toBe(0.67);
    expect(result.rotors[1]?.marginG).toBe(-157);
    expect(result.effect).toBe('bar');
  });

  it('treats left and right alike', () => {
    const { result } = runCalculation(ROTOR_CHECK, { rotors: [rotor('FL'), rotor('FR')] });
    const [left, right] = result.rotors;
    expect({ ...left, position: '' }).toEqual({ ...right, position: '' });
  });

  it('says that an unknown duty counts as heavy', () => {
    const { result, assumptions } = runCalculation(ROTOR_CHECK, {
      rotors: [rotor('FL', { cracks: 'surface-checks' })],
    });
    expect(result.effect).toBe('inspect');
    expect(assumptions.map(({ name }) => name)).toEqual(['dutyClass']);
  });

  it('bars a rotor whose stamp is not given', () => {
    const { minimumThicknessMm: _, ...unstamped } = rotor('FL');
    const worked = ROTOR_CHECK.compute(ROTOR_CHECK.input.parse({ rotors: [unstamped] }));
    expect(worked.result.effect).toBe('bar');
    expect(worked.result.rotors[0]).not.toHaveProperty('marginMm');
  });

  it('refuses a wheel given twice, and the questions of the other material', () => {
    const twice = { rotors: [rotor('FL'), rotor('FL')] };
    expect(faultsOf(() => runCalculation(ROTOR_CHECK, twice))[0]?.pointer).toBe('/rotors/1/position');
    const mixed = { rotors: [{ ...rotor('FL'), edgeChipsMm: 1 }] };
    expect(ROTOR_CHECK.input.safeParse(mixed).success).toBe(false);
  });
});
