import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  engagementDiameters,
  FASTENER_TORQUE,
  preloadForTorque,
  torqueForPreload,
} from '../../../../../src/domain/trade/safety/fastener-torque.ts';
import { parseThread, proofLoadOf } from '../../../../../src/domain/trade/safety/fastener-torque-threads.ts';
import { faultsOf, runCalculation } from '../run-calculation.ts';

const arbTorque = fc.double({ min: 1, max: 500, noNaN: true });
const arbDiameter = fc.double({ min: 5, max: 30, noNaN: true });
const arbFactor = fc.double({ min: 0.08, max: 0.4, noNaN: true });

describe('torque and preload', () => {
  it('come back', () => {
    fc.assert(
      fc.property(arbTorque, arbDiameter, arbFactor, (torque, diameter, factor) => {
        expect(torqueForPreload(preloadForTorque(torque, diameter, factor), diameter, factor)).toBeCloseTo(torque, 9);
      }),
    );
  });

  it('tighter clamps harder, and slippery threads clamp harder still', () => {
    fc.assert(
      fc.property(arbTorque, arbDiameter, arbFactor, (torque, diameter, factor) => {
        const preload = preloadForTorque(torque, diameter, factor);
        expect(preloadForTorque(torque * 1.1, diameter, factor)).toBeGreaterThan(preload);
        expect(preloadForTorque(torque, diameter, factor * 0.9)).toBeGreaterThan(preload);
      }),
    );
  });

  it.each<[string, () => number, string]>([
    ['no torque', () => preloadForTorque(0, 12, 0.2), '/torqueNm'],
    ['no preload', () => torqueForPreload(-1, 12, 0.2), '/preloadN'],
    ['no nut factor', () => torqueForPreload(100, 12, 0), '/nutFactor'],
    ['no diameter', () => preloadForTorque(100, Number.NaN, 0.2), '/thread'],
  ])('refuse %s', (_what, run, pointer) => {
    expect(faultsOf(run)).toMatchObject([{ pointer, code: 'not-positive' }]);
  });
});

describe('parseThread', () => {
  it.each([
    ['M12x1.5', 'M12x1.5', 12, 1.5],
    ['m12 x 1.25', 'M12x1.25', 12, 1.25],
    ['M14×1.5', 'M14x1.5', 14, 1.5],
    ['M12', 'M12x1.75', 12, 1.75],
    ['1/2-20', '1/2-20', 12.7, 1.27],
    ['7/16-20 UNF', '7/16-20', 11.1125, 1.27],
    ['3/8-16', '3/8-16', 9.525, 1.5875],
  ])('reads %s', (text, name, diameterMm, pitchMm) => {
    const thread = parseThread(text);
    expect(thread?.name).toBe(name);
    expect(thread?.diameterMm).toBeCloseTo(diameterMm, 9);
    expect(thread?.pitchMm).toBeCloseTo(pitchMm, 9);
  });

  it.each(['', 'M', 'M11', 'M12x', 'M12x12', 'M0x1', '12x1.5', '1/2', '20-1/2', '1/0-20', 'M12x0', '1/2-2'])(
    'does not read %j',
    (text) => {
      expect(parseThread(text)).toBeUndefined();
    },
  );

  it('knows no proof load of an inch thread', () => {
    const thread = parseThread('1/2-20');
    expect(thread && proofLoadOf(thread, '8.8')).toBeUndefined();
  });

  it('gives a fine thread more than the coarse one, and says that it rests on memory', () => {
    const [fine, coarse] = ['M12x1.5', 'M12'].map((text) => {
      const thread = parseThread(text);
      return thread && proofLoadOf(thread, '10.9');
    });
    expect(fine?.valueN).toBeGreaterThan(coarse?.valueN ?? Number.NaN);
    expect([fine?.standing, coarse?.standing]).toEqual(['from-memory', 'secondary']);
  });
});

describe('engagementDiameters', () => {
  const thread = { diameterMm: 12, pitchMm: 1.5 };

  it('is the shorter of length and turns', () => {
    expect(engagementDiameters({ turns: 8 }, thread)).toBe(1);
    expect(engagementDiameters({ lengthMm: 18 }, thread)).toBe(1.5);
    expect(engagementDiameters({ lengthMm: 18, turns: 4 }, thread)).toBe(0.5);
    expect(engagementDiameters({}, thread)).toBeUndefined();
    expect(engagementDiameters({ turns: 8 }, { diameterMm: 12 })).toBeUndefined();
    expect(engagementDiameters({ turns: 8, lengthMm: 12 }, { diameterMm: 12 })).toBe(1);
  });
});

describe('the calculation', () => {
  it('works its example', () => {
    const { result, assumptions } = runCalculation(FASTENER_TORQUE, FASTENER_TORQUE.example);
    expect(result).toMatchObject({ thread: 'M12x1.5', torqueNm: 110, againstProof: 'below', engagementEnough: true });
    expect(assumptions).toContainEqual(expect.objectContaining({ name: 'proof load', standing: 'from-memory' }));
  });

  it('takes the proof load of an inch fastener from the caller', () => {
    const body = { thread: '3/8-16', preloadN: { value: 4940, unit: 'lbf' } };
    const unknown = runCalculation(FASTENER_TORQUE, body);
    expect(unknown.result).toMatchObject({ proofLoadN: null, proofSharePercent: null, againstProof: 'unknown' });
    expect(unknown.cautions.join()).toContain('not known');
    const known = runCalculation(FASTENER_TORQUE, { ...body, proofLoadN: 29_300 });
    expect(known.result).toMatchObject({ proofSharePercent: 75, againstProof: 'below' });
  });

  it('warns before the proof load and stops at it', () => {
    const at = (torqueNm: number) => runCalculation(FASTENER_TORQUE, { thread: 'M12', torqueNm, propertyClass: '8.8' });
    expect(at(80).result.againstProof).toBe('below');
    expect(at(100).result.againstProof).toBe('may-pass');
    expect(at(130).result.againstProof).toBe('past');
    expect(at(130).cautions.join()).toContain('yield');
  });

  it('says that too little thread is engaged', () => {
    const worked = runCalculation(FASTENER_TORQUE, { thread: 'M12x1.5', torqueNm: 100, turns: 7.9 });
    expect(worked.result).toMatchObject({ engagementDiameters: 0.99, engagementEnough: false });
    expect(worked.cautions.join()).toContain('Too little thread');
  });

  it.each<[string, Record<string, unknown>, string, string]>([
    ['what is no thread', { thread: 'M12x99', torqueNm: 100 }, '/thread', 'not-a-thread'],
    ['no target', { thread: 'M12' }, '/torqueNm', 'one-of'],
    ['two targets', { thread: 'M12', torqueNm: 100, preloadN: 1000 }, '/torqueNm', 'one-of'],
    ['two nut factors', { thread: 'M12', torqueNm: 100, nutFactor: 0.2, condition: 'dry' }, '/nutFactor', 'one-of'],
    ['two proof loads', { thread: 'M12', torqueNm: 1, propertyClass: '8.8', proofLoadN: 9 }, '/proofLoadN', 'one-of'],
    ['a share of nothing', { thread: 'M12', proofSharePercent: 70 }, '/proofSharePercent', 'no-proof-load'],
    [
      'a class of an inch thread',
      { thread: '1/2-20', torqueNm: 1, propertyClass: '8.8' },
      '/propertyClass',
      'metric-only',
    ],
  ])('refuses %s', (_what, body, pointer, code) => {
    expect(faultsOf(() => runCalculation(FASTENER_TORQUE, body))).toMatchObject([{ pointer, code }]);
  });
});
