import { ALIGNMENT_COMPARE, toeLimitMm } from '../../src/domain/trade/suspension/alignment-compare.ts';
import { NotComputable } from '../../src/domain/trade/calculation.ts';
import {
  CG_HEIGHT,
  cgHeightMm,
  measuredCgHeightMm,
  staticStabilityFactor,
} from '../../src/domain/trade/suspension/cg-height.ts';
import { CORNER_WEIGHTS, cornerWeights } from '../../src/domain/trade/suspension/corner-weights.ts';
import { stopDecelerationG, stopTestG } from '../../src/domain/trade/brakes/stop-distance.ts';
import type { PublishedCheck } from './published-check.ts';

const SHORT_TRACK = 'short-track set-up page, scale worked example (secondary)';
const SET_UP = 'set-up page, corner weight example with both diagonals (secondary)';
const JACKING = 'formula collection, height of centre of gravity by jacking the vehicle from the rear (secondary)';
const OHIO = 'Ohio Administrative Code 4501:2-1-08, stop from 20 mph (regulation read); g by arithmetic';
const MM_PER_IN = 25.4;

const uneven = () => cornerWeights({ FL: 700, FR: 600, RL: 900, RR: 600 });
const even = () => cornerWeights({ FL: 694, FR: 606, RL: 670, RR: 585 });

/** As printed: the front axle of a 55 kg car carries 150 kg, and 30 in + 27 in are not 2.7 m. */
const JACKED = {
  totalKg: 55,
  wheelbaseMm: 2700,
  cgToRaisedMm: 30 * MM_PER_IN,
  cgToStayingMm: 27 * MM_PER_IN,
  stayingRadiusMm: 11 * MM_PER_IN,
  raisedRadiusMm: 15 * MM_PER_IN,
  stayingRaisedKg: 150,
  angleDeg: 10,
};

const LIFTED = {
  wheelbaseMm: 2570,
  frontKg: 625,
  rearKg: 625,
  raised: 'rear',
  stayingRaisedKg: 670,
  liftMm: 500,
  frontRadiusMm: 300,
  rearRadiusMm: 300,
};
const lifted = (): number => CG_HEIGHT.compute(CG_HEIGHT.input.parse(LIFTED)).result.heightMm;

function refusal(run: () => unknown): string {
  try {
    return `accepted: ${JSON.stringify(run())}`;
  } catch (error) {
    if (!(error instanceof NotComputable)) throw error;
    return `refused: ${[...new Set(error.faults.map((fault) => fault.code))].join(', ')}`;
  }
}

const totalToe = (front: number): boolean | null =>
  ALIGNMENT_COMPARE.compute(
    ALIGNMENT_COMPARE.input.parse({
      measured: { FL: { toeMm: front / 2 }, FR: { toeMm: front / 2 } },
      baseline: { FL: { toeMm: 1 }, FR: { toeMm: 1 } },
      makerTotalToeMm: { front: 2 },
    }),
  ).result.axles.front.toeWithinLimit;

export const CHECKS: readonly PublishedCheck[] = [
  {
    name: 'W21 cross share of 700/600/900/600',
    published: 53.57,
    tolerance: 0.01,
    unit: '%',
    source: SHORT_TRACK,
    ours: () => uneven().crossPercent,
  },
  {
    name: 'W21 left share of 700/600/900/600',
    published: 57.14,
    tolerance: 0.01,
    unit: '%',
    source: 'arithmetic',
    ours: () => uneven().leftPercent,
  },
  {
    name: 'W21 rear share of 700/600/900/600',
    published: 53.57,
    tolerance: 0.01,
    unit: '%',
    source: 'arithmetic',
    ours: () => 100 - uneven().frontPercent,
  },
  {
    name: 'W21 cross share by the other diagonal',
    published: 46.43,
    tolerance: 0.01,
    wrong: true,
    unit: '%',
    source: 'pages that put left front + right rear first (secondary)',
    ours: () => uneven().crossPercent,
  },
  {
    name: 'W21 as the API shows it',
    published: 53.57,
    tolerance: 0.05,
    unit: '%',
    source: SHORT_TRACK,
    ours: () =>
      CORNER_WEIGHTS.compute(
        CORNER_WEIGHTS.input.parse({
          FL: { value: 700, unit: 'lb' },
          FR: { value: 600, unit: 'lb' },
          RL: { value: 900, unit: 'lb' },
          RR: { value: 600, unit: 'lb' },
        }),
      ).result.crossPercent,
  },
  {
    name: 'W22 diagonal left front + right rear of 694/606/670/585',
    published: 1279,
    unit: 'lb',
    source: SET_UP,
    ours: () => even().frontLeftRearRightKg,
  },
  {
    name: 'W22 diagonal right front + left rear of 694/606/670/585',
    published: 1276,
    unit: 'lb',
    source: SET_UP,
    ours: () => even().frontRightRearLeftKg,
  },
  {
    name: 'W22 cross share of 694/606/670/585',
    published: 49.94,
    tolerance: 0.005,
    unit: '%',
    source: 'arithmetic',
    ours: () => even().crossPercent,
  },
  {
    name: 'W23 centre of gravity, formula on the printed inputs',
    published: 1480.92,
    tolerance: 0.01,
    unit: 'in',
    source: JACKING,
    ours: () => cgHeightMm(JACKED) / MM_PER_IN,
  },
  {
    name: 'W23 centre of gravity, printed inputs as a measurement',
    published: 'refused: implausible',
    source: 'statics: an axle never carries more than the car',
    ours: () => refusal(() => measuredCgHeightMm(JACKED)),
  },
  {
    name: 'CG height: 2570 mm, 1250 kg, +45 kg at 500 mm, wheels 300 mm',
    published: 766,
    tolerance: 0.5,
    unit: 'mm',
    source: 'arithmetic with tan θ; three derivations agree (secondary)',
    ours: lifted,
  },
  {
    name: 'CG height: the same with sin θ in place of tan θ',
    published: 775.5,
    tolerance: 5,
    wrong: true,
    unit: 'mm',
    source: 'one derivation that ends in L²·ΔW/(W·lift) (secondary)',
    ours: lifted,
  },
  {
    name: 'static stability factor: track 60 in, CG 20 in',
    published: 1.5,
    source: 'NHTSA rollover rulemaking chapter 5, T/(2h) (published); arithmetic',
    ours: () => staticStabilityFactor(60 * MM_PER_IN, 20 * MM_PER_IN),
  },
  {
    name: "570.7(d) toe limit at a maker's 2 mm",
    published: 3,
    unit: 'mm',
    source: '49 CFR 570.7(d), 1.5 × the maker’s value (regulation read)',
    ours: () => toeLimitMm(2),
  },
  {
    name: '570.7(d) total toe of 3 mm and of 3.1 mm against 2 mm',
    published: 'true, false',
    source: '49 CFR 570.7(d) (regulation read)',
    ours: () => `${totalToe(3)}, ${totalToe(3.1)}`,
  },
  {
    name: 'W39 stop from 20 mph in 30 ft',
    published: 0.446,
    tolerance: 0.001,
    unit: 'g',
    source: OHIO,
    ours: () => stopTestG('four-wheel-brakes'),
  },
  {
    name: 'W39 stop from 32.18688 km/h in 9.144 m',
    published: 0.446,
    tolerance: 0.001,
    unit: 'g',
    source: OHIO,
    ours: () => stopDecelerationG(32.18688, 9.144),
  },
  {
    name: 'W39 stop from 20 mph in 40 ft',
    published: 0.334,
    tolerance: 0.001,
    unit: 'g',
    source: OHIO,
    ours: () => stopTestG('other-brakes'),
  },
];
