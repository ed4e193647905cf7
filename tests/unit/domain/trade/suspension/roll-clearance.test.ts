import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { NotComputable } from '../../../../../src/domain/trade/calculation.ts';
import {
  findRollClearance,
  ROLL_CLEARANCE,
  type RollLine,
  rollClearance,
} from '../../../../../src/domain/trade/suspension/roll-clearance.ts';

const LINE: RollLine = {
  hoopTop: { x: 0, z: 1200 },
  front: { x: 1000, z: 1200 },
  helmetTop: { x: 300, z: 1120 },
};
const faultOf = (line: RollLine): string => {
  try {
    rollClearance(line);
  } catch (error) {
    if (error instanceof NotComputable) return `${error.faults[0]?.pointer} ${error.faults[0]?.code}`;
    throw error;
  }
  return 'none';
};
const compute = (input: unknown) => ROLL_CLEARANCE.compute(ROLL_CLEARANCE.input.parse(input));
const arbLine = fc
  .record({
    run: fc.double({ min: 300, max: 2000, noNaN: true }),
    fall: fc.double({ min: -500, max: 500, noNaN: true }),
    share: fc.double({ min: 0.01, max: 0.99, noNaN: true }),
    depth: fc.double({ min: -200, max: 500, noNaN: true }),
  })
  .map(({ run, fall, share, depth }) => ({
    hoopTop: { x: 0, z: 1200 },
    front: { x: run, z: 1200 - fall },
    helmetTop: { x: share * run, z: 1200 - share * fall - depth },
    depth,
  }));

describe('rollClearance', () => {
  it('is the height difference under a level line', () => {
    expect(rollClearance(LINE)).toEqual({ verticalMm: 80, clearanceMm: 80, slopeDeg: 0 });
  });

  it('finds the distance of a point from a 3-4-5 line', () => {
    // slope 3/4 down: 50 mm straight up are 40 mm square to the line (3-4-5 triangle)
    const line = { hoopTop: { x: 0, z: 1300 }, front: { x: 400, z: 1000 }, helmetTop: { x: 200, z: 1100 } };
    expect(rollClearance({ ...line, helmetRadiusMm: 0 }).clearanceMm).toBeCloseTo(40, 9);
    // the round helmet: (50 + 140)·0.8 − 140
    expect(rollClearance({ ...line, helmetRadiusMm: 140 }).clearanceMm).toBeCloseTo(12, 9);
  });

  it('never says more than the height, falls as the helmet rises, and does not mind where the origin is', () => {
    fc.assert(
      fc.property(arbLine, fc.integer({ min: -900, max: 900 }), ({ depth, ...line }, shift) => {
        const { verticalMm, clearanceMm } = rollClearance(line);
        expect(verticalMm).toBeCloseTo(depth, 6);
        expect(clearanceMm).toBeLessThanOrEqual(verticalMm + 1e-9);
        const higher = rollClearance({ ...line, helmetTop: { x: line.helmetTop.x, z: line.helmetTop.z + 10 } });
        expect(higher.clearanceMm).toBeLessThan(clearanceMm);
        const move = ({ x, z }: { x: number; z: number }) => ({ x: x + shift, z: z - shift });
        const moved = { hoopTop: move(line.hoopTop), front: move(line.front), helmetTop: move(line.helmetTop) };
        expect(rollClearance(moved).clearanceMm).toBeCloseTo(clearanceMm, 6);
      }),
    );
  });

  it.each<[Partial<RollLine>, string]>([
    [{ front: { x: 0, z: 1100 } }, '/front not-in-front'],
    [{ front: { x: -500, z: 1100 } }, '/front not-in-front'],
    [{ helmetTop: { x: -1, z: 1000 } }, '/helmetTop not-under-line'],
    [{ helmetTop: { x: 1001, z: 1000 } }, '/helmetTop not-under-line'],
    [{ helmetRadiusMm: -1 }, '/helmetRadius negative'],
    [{ front: { x: Number.NaN, z: 1100 } }, '/front not-in-front'],
  ])('refuses %j', (change, expected) => {
    expect(faultOf({ ...LINE, ...change })).toBe(expected);
    expect(findRollClearance({ ...LINE, ...change })).toBeUndefined();
  });
});

describe('roll-clearance', () => {
  it('judges against the clearance asked for, and says where the number is from', () => {
    const points = { hoopTop: LINE.hoopTop, front: LINE.front, helmetTop: { x: 300, z: 1150 } };
    expect(compute(points).result).toMatchObject({ clearanceMm: 50, neededMm: 50, enough: true });
    expect(compute({ ...points, needed: { value: 3, unit: 'in' } }).result).toMatchObject({ enough: false });
    expect(compute(points).assumptions.filter(({ standing }) => standing === 'from-memory')).toHaveLength(2);
  });

  it('reads a helmet above the line as a negative clearance', () => {
    const { result } = compute({ ...LINE, helmetTop: { x: 300, z: 1230 } });
    expect(result).toMatchObject({ clearanceMm: -30, enough: false });
  });
});
