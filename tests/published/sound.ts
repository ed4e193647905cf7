import {
  addLevels,
  equivalentLevel,
  findSoundAtReference,
  levelAtDistance,
} from '../../src/domain/trade/safety/sound-level.ts';
import type { PublishedCheck } from './published-check.ts';

const FT_50 = 15.24;
const LAW = 'inverse distance law, acoustics course notes, secondary source';

/** Sound levels over distance. */
export const CHECKS: readonly PublishedCheck[] = [
  {
    name: 'W24 distance doubled',
    published: -6.02,
    tolerance: 0.01,
    unit: 'dB',
    ours: () => levelAtDistance(0, 1, 2),
    source: LAW,
  },
  {
    name: 'sound: 100 dB at 1 m, at 2 m',
    published: 94,
    tolerance: 0.05,
    unit: 'dB',
    ours: () => levelAtDistance(100, 1, 2),
    source: 'audio course, inverse distance law, secondary source',
  },
  {
    name: 'sound: 50 ft to 100 ft',
    published: -6.02,
    tolerance: 0.005,
    unit: 'dB',
    ours: () => levelAtDistance(0, FT_50, 2 * FT_50),
    source: 'arithmetic from the law',
  },
  {
    name: 'sound: 100 ft to 50 ft',
    published: 6.02,
    tolerance: 0.005,
    unit: 'dB',
    ours: () => levelAtDistance(0, 2 * FT_50, FT_50),
    source: 'arithmetic from the law',
  },
  {
    name: 'sound: 92 dB at 20 m, at 50 ft',
    published: 94.4,
    tolerance: 0.05,
    unit: 'dB(A)',
    ours: () => findSoundAtReference({ levelDb: 92, distanceM: 20, method: 'static', referenceM: FT_50 }) ?? Number.NaN,
    source: 'arithmetic from the law',
  },
  {
    name: 'sound: the bare formula from 0.5 m to 50 ft',
    published: -29.68,
    tolerance: 0.005,
    unit: 'dB',
    ours: () => levelAtDistance(0, 0.5, FT_50),
    source: 'arithmetic from the law; not a pass or fail conversion, see the next row',
  },
  {
    name: 'sound: 105 dB(A) at 0.5 m taken as 75.32 dB(A) at 50 ft',
    published: '75.32',
    wrong: true,
    ours: () => {
      const level = findSoundAtReference({ levelDb: 105, distanceM: 0.5, method: 'static', referenceM: FT_50 });
      return level?.toFixed(2) ?? 'refused: near-field';
    },
    source: 'a reading 0.5 m from the exhaust is near-field and cannot be converted',
  },
  {
    name: 'sound: ten equal sources',
    published: 10,
    tolerance: 1e-9,
    unit: 'dB',
    ours: () => addLevels(Array.from({ length: 10 }, () => 80)) - 80,
    source: 'n equal sources add 10·log10 n, definition',
  },
  {
    name: 'sound: 80 and 100 dB averaged as numbers',
    published: 90,
    tolerance: 1,
    wrong: true,
    unit: 'dB',
    ours: () => equivalentLevel([80, 100]),
    source: 'levels are never averaged arithmetically for Leq',
  },
];
