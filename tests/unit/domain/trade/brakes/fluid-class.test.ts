import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BRAKE_FLUID_CLASSES } from '../../../../../src/domain/catalogue/brakes.ts';
import {
  findFluidMinimum,
  findLabelFaults,
  FLUID_CLASSES,
  FLUID_MINIMUMS,
  fluidClassCovers,
  labelAgrees,
  labelPointC,
} from '../../../../../src/domain/trade/brakes/fluid-boiling.ts';
import {
  FLUID_CLASS,
  fluidLabelPlausible,
  workingBoilingPoint,
} from '../../../../../src/domain/trade/brakes/fluid-class.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const celsius = fc.integer({ min: 60, max: 400 });

describe('classes', () => {
  it('knows every class of the catalogue but those without minimums', () => {
    const unknown = BRAKE_FLUID_CLASSES.filter((name) => findFluidMinimum(name) === undefined);
    expect(unknown).toEqual(['mineral-oil', 'other', 'unknown']);
    expect(FLUID_CLASSES.every((name) => (BRAKE_FLUID_CLASSES as readonly string[]).includes(name))).toBe(true);
    expect(['toString', '__proto__', ''].map(findFluidMinimum)).toEqual([undefined, undefined, undefined]);
  });

  it('wet is below dry, everywhere', () => {
    expect(Object.values(FLUID_MINIMUMS).every(({ dryC, wetC }) => wetC < dryC)).toBe(true);
  });

  // ISO numbers from memory; that 6 and 7 are no rungs of a ladder is what the sources agree on
  it('are not ordered by their numbers', () => {
    expect(fluidClassCovers('ISO 6', 'ISO 5-1')).toBe(false);
    expect(fluidClassCovers('ISO 5-1', 'ISO 6')).toBe(true);
    expect(fluidClassCovers('DOT 5.1', 'DOT 4')).toBe(true);
    expect(fluidClassCovers('DOT 3', 'DOT 4')).toBe(false);
  });

  it('silicone is another kind of fluid, whatever it boils at', () => {
    expect(fluidClassCovers('DOT 5', 'DOT 4')).toBe(false);
    expect(fluidClassCovers('DOT 5', 'DOT 5.1')).toBe(false);
    expect(fluidClassCovers('DOT 5.1', 'DOT 5')).toBe(false);
    expect(fluidClassCovers('DOT 5', 'DOT 5')).toBe(true);
  });

  it('a class without minimums covers nothing and is covered by nothing', () => {
    expect(fluidClassCovers('mineral-oil', 'DOT 3')).toBeUndefined();
    expect(fluidClassCovers('DOT 4', 'unknown')).toBeUndefined();
  });
});

describe('labels', () => {
  it('°C and °F of one label agree to 1 °F', () => {
    expect(labelAgrees({ c: 155, f: 311 })).toBe(true);
    expect(labelAgrees({ c: 155, f: 312 })).toBe(true);
    expect(labelAgrees({ c: 155, f: 313 })).toBe(false);
    expect(labelAgrees({ c: 191, f: 600 })).toBe(false);
    expect(labelAgrees({ c: 155 })).toBeUndefined();
    expect(labelPointC({ f: 311 })).toBe(155);
    expect(labelPointC({})).toBeUndefined();
  });

  it('every label rounded from one temperature agrees', () => {
    fc.assert(
      fc.property(fc.double({ min: 60, max: 400, noNaN: true }), (true_) => {
        expect(labelAgrees({ c: true_, f: Math.round(true_ * 1.8 + 32) })).toBe(true);
      }),
    );
  });

  it('names every fault at its place', () => {
    const faults = findLabelFaults({ c: 200, f: 500 }, { c: 210, f: 100 });
    expect(faults.map(({ pointer, code }) => [pointer, code])).toEqual([
      ['/label/dry/f', 'scales-disagree'],
      ['/label/wet/f', 'scales-disagree'],
      ['/label/wet', 'wet-above-dry'],
    ]);
  });

  it('is implausible below the minimum of its class, and unknown where nothing is known', () => {
    expect(fluidLabelPlausible({ fluidClass: 'DOT 4', labelDryC: 230, labelWetC: 155 })).toBe(true);
    expect(fluidLabelPlausible({ fluidClass: 'DOT 4', labelDryC: 229, labelWetC: 155 })).toBe(false);
    expect(fluidLabelPlausible({ fluidClass: 'DOT 4', labelWetC: 154 })).toBe(false);
    expect(fluidLabelPlausible({ fluidClass: 'DOT 4', labelDryC: 250, labelWetC: 250 })).toBe(false);
    expect(fluidLabelPlausible({ fluidClass: 'DOT 4' })).toBeUndefined();
    expect(fluidLabelPlausible({ fluidClass: 'mineral-oil', labelDryC: 260 })).toBeUndefined();
    expect(fluidLabelPlausible({ labelDryC: 260 })).toBeUndefined();
  });
});

describe('workingBoilingPoint', () => {
  it('is measured, else wet of the label, else of the class, never dry', () => {
    const facts = { fluidClass: 'DOT 4', labelDryC: 312, labelWetC: 204, measuredC: 240 };
    expect(workingBoilingPoint(facts)).toEqual({ celsius: 240, from: 'measured' });
    expect(workingBoilingPoint({ ...facts, measuredC: undefined })).toEqual({ celsius: 204, from: 'label-wet' });
    expect(workingBoilingPoint({ fluidClass: 'DOT 4', labelDryC: 312 })).toEqual({
      celsius: 155,
      from: 'class-wet-minimum',
    });
    expect(workingBoilingPoint({ fluidClass: 'other', labelDryC: 312 })).toBeUndefined();
    expect(workingBoilingPoint({})).toBeUndefined();
  });
});

describe('fluid-class', () => {
  const run = (body: object) => runCalculation(FLUID_CLASS, { fluidClass: 'DOT 4', ...body });

  it('works its example', () => {
    expect(runCalculation(FLUID_CLASS, FLUID_CLASS.example).result).toMatchObject({
      minimumDryC: 230,
      minimumWetF: 311,
      label: 'plausible',
      boilsAtC: 204,
      boilsAtFrom: 'label-wet',
      marginC: 14,
      enough: true,
    });
  });

  it('without a need nothing is enough or not', () => {
    expect(run({}).result).toMatchObject({ label: 'not-given', boilsAtC: 155, marginC: null, enough: null });
  });

  it('a label below its class is never enough, a measured boiling point can be', () => {
    const label = { dry: { c: 220 }, wet: { c: 200 } };
    expect(run({ label, neededC: 190 }).result).toMatchObject({
      label: 'below-class-minimum',
      belowMinimum: ['dry'],
      enough: false,
    });
    expect(run({ label, neededC: 190, measuredC: 215 }).result.enough).toBe(true);
  });

  it('measured against the class', () => {
    const measured = (measuredC: number) => run({ measuredC }).result.measured;
    expect([154, 155, 229, 230].map(measured)).toEqual(['below-wet-minimum', 'used', 'used', 'as-fresh']);
  });

  it('a higher need never turns no into yes', () => {
    fc.assert(
      fc.property(celsius, celsius, fc.nat(50), (measuredC, neededC, more) => {
        const enough = (need: number) => Number(run({ measuredC, neededC: need }).result.enough);
        expect(enough(neededC + more)).toBeLessThanOrEqual(enough(neededC));
      }),
    );
  });

  it('says what is from memory, and takes other minimums', () => {
    const standings = (body: object) => run(body).assumptions.map(({ standing }) => standing);
    expect(standings({ fluidClass: 'ISO 6' })).toContain('from-memory');
    expect(standings({ fluidClass: 'DOT 4' })).not.toContain('from-memory');
    const own = run({ fluidClass: 'ISO 6', minimumDryC: 240, minimumWetC: 170 });
    expect(own.result).toMatchObject({ minimumDryC: 240, boilsAtC: 170 });
    expect(own.assumptions.map(({ name }) => name)).not.toContain('minimumWetC');
  });

  it('warns of silicone', () => {
    expect(run({ fluidClass: 'DOT 5' }).cautions.join(' ')).toContain('mixes with no other class');
    expect(run({}).cautions.join(' ')).not.toContain('Silicone');
  });

  it.each([
    [{ label: { dry: { c: 312, f: 500 } } }, '/label/dry/f', 'scales-disagree'],
    [{ label: { dry: { c: 260 }, wet: { f: 500 } } }, '/label/wet', 'wet-above-dry'],
    [{ minimumWetC: 230 }, '/minimumWetC', 'wet-above-dry'],
  ])('refuses %j at %s', (body, pointer, code) => {
    expect(faultsOf(() => run(body))).toMatchObject([{ pointer, code }]);
  });

  it('does not take a class that has no minimums', () => {
    expect(FLUID_CLASS.input.safeParse({ fluidClass: 'mineral-oil' }).success).toBe(false);
  });
});
