import { conformityProbability, normalProbability, standardFromLimitOfError } from '../../src/domain/quantity.ts';
import type { PublishedCheck } from './published-check.ts';

const TABLE = 'JCGM 106:2012, 7.3, table 1 (existence secondary); values of the normal distribution, derived';
const EXAMPLES = 'JCGM 106:2012, worked examples: inputs from memory, arithmetic derived';
const PADDOCK = 'normal distribution, derived: lower limit 1.6 mm, u 0.10 mm';

/** z for a probability of conformity */
const Z_ROWS = [
  [0.8, 0.842],
  [0.85, 1.036],
  [0.9, 1.282],
  [0.95, 1.645],
  [0.975, 1.96],
  [0.99, 2.326],
  [0.999, 3.09],
] as const;

/** reading mm, probability that the true tread is at least 1.6 mm */
const TREAD_ROWS = [
  [1.4, 0.0228],
  [1.5, 0.1587],
  [1.6, 0.5],
  [1.7, 0.8413],
  [1.764, 0.9495],
  [1.8, 0.9772],
  [2, 0.999_97],
] as const;

export const CHECKS: readonly PublishedCheck[] = [
  ...Z_ROWS.map(
    ([probability, z]): PublishedCheck => ({
      name: `conformity: probability ${probability} at z ${z}`,
      published: probability,
      // z is printed with three decimals
      tolerance: 0.0002,
      source: TABLE,
      ours: () => normalProbability(z),
    }),
  ),
  ...TREAD_ROWS.map(
    ([reading, probability]): PublishedCheck => ({
      name: `conformity: tread of ${reading} mm against 1.6 mm`,
      published: probability,
      tolerance: 0.000_06,
      source: PADDOCK,
      ours: () => conformityProbability(reading, 0.1, { atLeast: 1.6 }),
    }),
  ),
  {
    name: 'conformity: voltage of a diode, upper limit −5.40 V',
    published: 0.919,
    tolerance: 0.0005,
    source: EXAMPLES,
    ours: () => conformityProbability(-5.47, 0.05, { atMost: -5.4 }),
  },
  {
    name: 'conformity: burst pressure, lower limit 490 kPa',
    published: 0.989,
    tolerance: 0.0005,
    source: EXAMPLES,
    ours: () => conformityProbability(509.7, 8.6, { atLeast: 490 }),
  },
  {
    name: 'conformity: viscosity of SAE 40 oil, two limits',
    published: 0.663,
    tolerance: 0.0005,
    source: EXAMPLES,
    ours: () => conformityProbability(13.6, 1.8, { atLeast: 12.5, atMost: 16.3 }),
  },
  {
    name: 'conformity: viscosity of SAE 40 oil, upper limit alone',
    published: 0.663,
    tolerance: 0.0005,
    wrong: true,
    source: 'one limit forgotten',
    ours: () => conformityProbability(13.6, 1.8, { atMost: 16.3 }),
  },
  {
    name: 'conformity: U of a tyre gauge of ±0.08 bar',
    published: 0.0924,
    tolerance: 0.000_05,
    unit: 'bar',
    source: 'rectangular distribution, MPE / √3, k = 2; derived. The limit of error is from memory',
    ours: () => 2 * standardFromLimitOfError(0.08),
  },
];
