import { convert } from '../../src/domain/quantity.ts';
import { brakeNeedRanges } from '../../src/domain/trade/brakes/brake-heat-duty.ts';
import {
  boilingPointAtAge,
  boilingPointWithWater,
  type FluidPoints,
  fluidsMix,
  waterAtBoilingPoint,
} from '../../src/domain/trade/brakes/fluid-boiling.ts';
import type { PublishedCheck } from './published-check.ts';

const DERIVED = 'the exponential through both class minimums, k 0.30 per % (derived)';
const DOT_3_POINTS = 'five points of a DOT 3 fluid on a public page (secondary), 320 and 293 °F';
const DOT_3: FluidPoints = { dryC: 205, wetC: 140 };
const DOT_4: FluidPoints = { dryC: 230, wetC: 155 };
const DOT_5_1: FluidPoints = { dryC: 260, wetC: 180 };
const RACING: FluidPoints = { dryC: 310, wetC: 195 };

const WATER = [0, 0.5, 1, 1.5, 2, 3, 3.7, 5] as const;
const CURVES: readonly (readonly [string, FluidPoints, readonly number[]])[] = [
  ['DOT 3 205/140', DOT_3, [205, 191.5, 179.9, 169.9, 161.3, 147.5, 140, 129.7]],
  ['DOT 4 230/155', DOT_4, [230, 214.4, 201.0, 189.5, 179.5, 163.6, 155, 143.1]],
  ['DOT 5.1 260/180', DOT_5_1, [260, 243.4, 229.1, 216.8, 206.2, 189.2, 180, 167.3]],
  ['racing 310/195', RACING, [310, 286.1, 265.5, 247.8, 232.6, 208.2, 195, 176.7]],
];

const curveChecks: readonly PublishedCheck[] = CURVES.flatMap(([name, points, published]) =>
  WATER.map((percent, i) => ({
    name: `fluid-water: ${name} with ${percent} % of water`,
    published: published[i] ?? Number.NaN,
    ours: () => boilingPointWithWater(points, percent),
    tolerance: 0.05,
    unit: '°C',
    source: DERIVED,
  })),
);

const AGAINST_POINTS: readonly PublishedCheck[] = [
  {
    name: 'fluid-water: DOT 3 with 2 % of water, published point',
    published: 160,
    ours: () => boilingPointWithWater(DOT_3, 2),
    tolerance: 2.6,
    unit: '°C',
    source: DOT_3_POINTS,
  },
  {
    name: 'fluid-water: DOT 3 with 3 % of water, published point',
    published: 145,
    ours: () => boilingPointWithWater(DOT_3, 3),
    tolerance: 2.6,
    unit: '°C',
    source: DOT_3_POINTS,
  },
  {
    name: 'fluid-water: DOT 4 boils at 180 °C with',
    published: 1.974,
    ours: () => waterAtBoilingPoint(DOT_4, 180) ?? Number.NaN,
    tolerance: 0.0005,
    unit: '%',
    source: DERIVED,
  },
  {
    name: 'fluid-water: DOT 4 two years old at 1 % in a year',
    published: 179.5,
    ours: () => boilingPointAtAge(DOT_4, 2 * 365.25, 1),
    tolerance: 0.05,
    unit: '°C',
    source: DERIVED,
  },
  {
    name: 'fluid-water: 3 % of water halves the boiling point of DOT 4',
    published: 115,
    ours: () => boilingPointWithWater(DOT_4, 3),
    tolerance: 20,
    wrong: true,
    unit: '°C',
    source: 'a sales page says "up to 50 %"; the wet minimum of 155 °C at 3.7 % contradicts it (49 CFR 571.116)',
  },
];

const mix = (one: string, other: string): string => {
  const said = fluidsMix(one, other);
  return said === undefined ? 'not known' : said ? 'mix' : 'never';
};
const KINDS_SOURCE = '49 CFR 571.116 S5.1.14 (agency letter of 1980): a colour for each kind, so that none are mixed';
const MIXES: readonly (readonly [string, string, string])[] = [
  ['DOT 3', 'DOT 4', 'mix'],
  ['DOT 4', 'DOT 5.1', 'mix'],
  ['DOT 5', 'DOT 5.1', 'never'],
  ['DOT 4', 'DOT 5', 'never'],
  ['DOT 4', 'mineral-oil', 'never'],
  ['DOT 5', 'mineral-oil', 'never'],
  ['mineral-oil', 'mineral-oil', 'mix'],
  ['DOT 4', 'unknown', 'not known'],
];

/** Limits of linings in the unit of the catalogue. */
const LININGS: readonly PublishedCheck[] = [
  ['riveted, 1/32 in', 1 / 32, 0.794],
  ['bonded, 1/16 in', 1 / 16, 1.588],
].map(([name, inches, mm]) => ({
  name: `lining: ${name}`,
  published: Number(mm),
  ours: () => convert(Number(inches), 'in', 'mm') ?? Number.NaN,
  tolerance: 0.001,
  unit: 'mm',
  source: '49 CFR 570.59(c) (regulation read); the conversion is arithmetic',
}));

/** 0.2 of a rise of 500 K with ±15 % and ±0.03: √(15² + 15²) = 21.213 K. */
const RANGES: readonly PublishedCheck[] = [
  {
    name: 'brake-heat: half width of the need of the fluid, rise 500 K',
    published: 21.2132,
    ours: () => {
      const { fluidC } = brakeNeedRanges({ front: 520, rear: 300 }, 20);
      return (fluidC.high - fluidC.low) / 2;
    },
    tolerance: 1e-4,
    unit: 'K',
    source: 'JCGM 100:2008 5.1.2, root of the sum of squares (arithmetic from the stated inputs)',
  },
];

/** Water in brake fluid, fluids that mix, linings, the interval around the need. */
export const CHECKS: readonly PublishedCheck[] = [
  ...curveChecks,
  ...AGAINST_POINTS,
  ...MIXES.map(([one, other, published]) => ({
    name: `fluid-kind: ${one} and ${other}`,
    published,
    ours: () => mix(one, other),
    source: KINDS_SOURCE,
  })),
  ...LININGS,
  ...RANGES,
];
