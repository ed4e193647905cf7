import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { NotComputable } from '../../../../../src/domain/trade/calculation.ts';
import {
  addLevels,
  equivalentLevel,
  findSoundAtReference,
  levelAtDistance,
  SOUND_AVERAGE,
  SOUND_LEVEL,
  soundAtReference,
  soundUncertainty,
} from '../../../../../src/domain/trade/safety/sound-level.ts';

const faultOf = (run: () => unknown): string => {
  try {
    run();
  } catch (error) {
    if (error instanceof NotComputable) return `${error.faults[0]?.pointer} ${error.faults[0]?.code}`;
    throw error;
  }
  return 'none';
};
const compute = (input: unknown) => SOUND_LEVEL.compute(SOUND_LEVEL.input.parse(input));
const arbLevel = fc.double({ min: 30, max: 140, noNaN: true });
const arbFar = fc.double({ min: 3.01, max: 200, noNaN: true });
const METER = { meterDb: 1.5, distanceM: 0.25 };

describe('levelAtDistance', () => {
  it('comes back on the way back, and falls with distance', () => {
    fc.assert(
      fc.property(arbLevel, arbFar, arbFar, (level, from, to) => {
        expect(levelAtDistance(levelAtDistance(level, from, to), to, from)).toBeCloseTo(level, 9);
        if (to > from * 1.001) expect(levelAtDistance(level, from, to)).toBeLessThan(level);
      }),
    );
  });

  it('refuses distances of nothing', () => {
    expect(faultOf(() => levelAtDistance(90, 0, 20))).toBe('/distance not-positive');
    expect(faultOf(() => levelAtDistance(90, 20, -1))).toBe('/referenceDistance not-positive');
  });
});

describe('soundAtReference', () => {
  const reading = { levelDb: 95, distanceM: 20, method: 'static', referenceM: 15.24 } as const;

  it.each([
    [{ method: 'near-field' as const }, '/method near-field'],
    [{ method: 'near-field' as const, referenceM: 20 }, '/method near-field'],
    [{ distanceM: 0.5 }, '/distance near-field'],
    [{ distanceM: 3 }, '/distance near-field'],
    [{ distanceM: 5, nearFieldWithinM: 5 }, '/distance near-field'],
    [{ referenceM: 0.5 }, '/referenceDistance near-field'],
    [{ distanceM: 0, referenceM: 0 }, '/distance not-positive'],
  ])('refuses %j', (change, expected) => {
    expect(faultOf(() => soundAtReference({ ...reading, ...change }))).toBe(expected);
    expect(findSoundAtReference({ ...reading, ...change })).toBeUndefined();
  });

  it('gives a reading at the reference distance as it is, a static check at 0.5 m too', () => {
    expect(soundAtReference({ ...reading, referenceM: 20 })).toBe(95);
    expect(soundAtReference({ ...reading, distanceM: 0.508, referenceM: (20 * 25.4) / 1000 })).toBe(95);
  });

  it('never makes a louder car quieter', () => {
    fc.assert(
      fc.property(arbLevel, arbLevel, arbFar, arbFar, (a, b, distanceM, referenceM) => {
        const at = (levelDb: number) => soundAtReference({ levelDb, distanceM, method: 'drive-by', referenceM });
        expect(at(Math.max(a, b))).toBeGreaterThanOrEqual(at(Math.min(a, b)));
      }),
    );
  });
});

describe('soundUncertainty', () => {
  it('is that of the meter alone at the same distance, and grows on shorter distances', () => {
    expect(soundUncertainty(20, 20, METER)).toBe(1.5);
    expect(soundUncertainty(10, 20, METER)).toBeGreaterThan(soundUncertainty(20, 40, METER));
  });

  it('agrees with the change of the level over a small step', () => {
    // numerical derivative of the law, meter left out
    const slope = Math.abs(levelAtDistance(0, 10.0005, 50) - levelAtDistance(0, 9.9995, 50)) / 0.001;
    const far = Math.abs(levelAtDistance(0, 10, 50.0005) - levelAtDistance(0, 10, 49.9995)) / 0.001;
    expect(soundUncertainty(10, 50, { meterDb: 0, distanceM: 0.1 })).toBeCloseTo(0.1 * Math.hypot(slope, far), 6);
  });
});

describe('sound-level', () => {
  it('works its example and does not claim more than it knows', () => {
    const { result, assumptions } = compute(SOUND_LEVEL.example);
    expect(result).toMatchObject({
      levelAtReferenceDb: 94.4,
      converted: true,
      marginDb: 0.6,
      verdict: 'too-close-to-say',
    });
    expect(assumptions.map(({ name }) => name)).toContain('Free field');
    expect(assumptions.filter(({ standing }) => standing === 'from-memory')).toHaveLength(2);
  });

  it.each([
    [80, 'below'],
    [110, 'above'],
  ])('says of %d dB at 20 m against 95 dB at 50 ft: %s', (level, verdict) => {
    expect(compute({ ...(SOUND_LEVEL.example as object), level }).result.verdict).toBe(verdict);
  });
});

describe('levels together', () => {
  it('lie between mean and maximum, and do not depend on order', () => {
    fc.assert(
      fc.property(fc.array(arbLevel, { minLength: 1, maxLength: 20 }), (levels) => {
        const leq = equivalentLevel(levels);
        const mean = levels.reduce((sum, level) => sum + level, 0) / levels.length;
        expect(leq).toBeGreaterThanOrEqual(mean - 1e-9);
        expect(leq).toBeLessThanOrEqual(Math.max(...levels) + 1e-9);
        expect(equivalentLevel([...levels].reverse())).toBeCloseTo(leq, 9);
      }),
    );
  });

  it('refuse nothing at all', () => {
    expect(faultOf(() => addLevels([]))).toBe('/levels empty');
    expect(faultOf(() => equivalentLevel([]))).toBe('/levels empty');
  });

  it('are offered as sound-average', () => {
    const { result } = SOUND_AVERAGE.compute(SOUND_AVERAGE.input.parse({ levels: [80, 100] }));
    expect(result).toEqual({ equivalentDb: 97, loudestDb: 100 });
  });
});
