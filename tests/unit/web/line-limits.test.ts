import { describe, expect, it } from 'vitest';
import { commonLimits, ownLimits } from '../../../src/web/line/car/place-row.tsx';
import type { Point } from '../../../src/web/line/state/worksheet.ts';

const point = (item: string, position?: string): Point => ({
  item,
  label: item,
  why: '',
  asked: 'usual',
  ...(position !== undefined && { position }),
});
const limit = (text: string, items: string[], position?: string) => ({
  ruleId: text,
  items,
  says: { text },
  ...(position !== undefined && { position }),
});

const LIMITS = [
  limit('4 mm or more.', ['pad.thickness'], 'FL.in'),
  limit('4 mm or more.', ['pad.thickness'], 'RL.in'),
  limit('Front pads: left and right alike.', ['pad.thickness'], 'front'),
  limit('It stops high and hard.', ['brake.pedal']),
  // reads the pads beside what it is about
  limit('Between the marks.', ['brake-fluid.level', 'pad.thickness']),
];
const pads = { points: [point('pad.thickness', 'FL.in'), point('pad.thickness', 'RL.in')] };

describe('the limits beside the points of the line', () => {
  it('are said once where they hold at every place, and at the place where they do not', () => {
    expect(commonLimits(pads, LIMITS)).toEqual(['4 mm or more.']);
    expect(pads.points.map((one) => ownLimits(one, pads, LIMITS))).toEqual([['Front pads: left and right alike.'], []]);
  });

  it('are those of the thing that is seen, not of what is read beside it', () => {
    expect(commonLimits({ points: [point('brake.pedal')] }, LIMITS)).toEqual(['It stops high and hard.']);
    expect(commonLimits(pads, LIMITS)).not.toContain('Between the marks.');
  });

  it('are none where the server could not be asked', () => {
    expect(commonLimits(pads, undefined)).toEqual([]);
    expect(ownLimits(point('brake.pedal'), { points: [point('brake.pedal')] }, undefined)).toEqual([]);
  });
});
