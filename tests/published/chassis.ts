import { convert } from '../../src/domain/quantity.ts';
import { BEARING_PLAY_LIMIT_MM, LINKAGE_PLAY_LIMIT_MM } from '../../src/domain/trade/suspension/play-diagnosis.ts';
import {
  playAtUkWheel,
  steeringLashLimit,
  steeringPlayElsewhere,
} from '../../src/domain/trade/suspension/steering-play.ts';
import type { PublishedCheck } from './published-check.ts';

const TABLE = '49 CFR 570.7(a), table 1, regulation read';
const MIRROR = 'legal mirrors of 49 CFR 570.7 and 570.60 print mixed numbers without a space';

const limitMm = (diameterIn: number): number => steeringLashLimit(diameterIn * 25.4).limitMm;
const limitIn = (diameterIn: number): number => convert(limitMm(diameterIn), 'mm', 'in') ?? Number.NaN;
const elsewhere = (rule: string, diameterMm: number): number =>
  steeringPlayElsewhere(diameterMm).find((limit) => limit.rule === rule)?.limitMm ?? Number.NaN;

const NOISE = 1e-9;

const LASH: readonly PublishedCheck[] = [
  { diameterIn: 16, lashIn: 2, lashMm: 50.8, id: '' },
  { diameterIn: 18, lashIn: 2.25, lashMm: 57.15, id: 'W13 ' },
  { diameterIn: 20, lashIn: 2.5, lashMm: 63.5, id: '' },
  { diameterIn: 22, lashIn: 2.75, lashMm: 69.85, id: '' },
].flatMap(({ diameterIn, lashIn, lashMm, id }) => [
  {
    name: `${id}steering wheel of ${diameterIn} in: lash`,
    published: lashIn,
    tolerance: NOISE,
    unit: 'in',
    ours: () => limitIn(diameterIn),
    source: TABLE,
  },
  {
    name: `${id}steering wheel of ${diameterIn} in: lash in mm`,
    published: lashMm,
    tolerance: NOISE,
    unit: 'mm',
    ours: () => limitMm(diameterIn),
    source: `${TABLE}; mm by arithmetic`,
  },
]);

const MIRRORS: readonly PublishedCheck[] = [
  { diameterIn: 18, printed: '21/4', naive: 5.25 },
  { diameterIn: 20, printed: '21/2', naive: 10.5 },
  { diameterIn: 22, printed: '23/4', naive: 5.75 },
].map(({ diameterIn, printed, naive }) => ({
  name: `steering wheel of ${diameterIn} in: "${printed}" read as a fraction`,
  published: naive,
  tolerance: 1,
  wrong: true as const,
  unit: 'in',
  ours: () => limitIn(diameterIn),
  source: MIRROR,
}));

const ELSEWHERE: readonly PublishedCheck[] = [
  { rule: 'UK road test, rack and pinion', at380: 13, at350: 12 },
  { rule: 'UK road test, no rack and pinion', at380: 75, at350: 69.1 },
  { rule: 'UK road test, several joints between wheel and rack', at380: 48, at350: 44.2 },
].flatMap(({ rule, at380, at350 }) => [
  {
    name: `${rule}, 380 mm wheel`,
    published: at380,
    tolerance: NOISE,
    unit: 'mm',
    ours: () => elsewhere(rule, 380),
    source: 'UK MOT manual 2.2, secondary source',
  },
  {
    name: `${rule}, 350 mm wheel`,
    published: at350,
    tolerance: 0.05,
    unit: 'mm',
    ours: () => elsewhere(rule, 350),
    source: 'UK MOT manual 2.2, scaled with the wheel; arithmetic',
  },
]);

const STATES: readonly PublishedCheck[] = [
  { rule: 'Ohio, power steering', diameterIn: 15, limit: 2, source: 'Ohio 4501:2-1-08, read' },
  { rule: 'Ohio, manual steering', diameterIn: 15, limit: 3, source: 'Ohio 4501:2-1-08, read' },
  { rule: 'Maryland', diameterIn: 20, limit: 3, source: 'Maryland 11.22.03.04, read' },
  { rule: 'Maryland', diameterIn: 21, limit: 3.5, source: 'Maryland 11.22.03.04, read' },
].map(({ rule, diameterIn, limit, source }) => ({
  name: `steering play, ${rule}, ${diameterIn} in wheel`,
  published: limit,
  tolerance: NOISE,
  unit: 'in',
  ours: () => elsewhere(rule, diameterIn * 25.4) / 25.4,
  source,
}));

const PLAY: readonly PublishedCheck[] = [
  {
    name: 'linkage play at the tyre tread',
    published: 0.25,
    tolerance: NOISE,
    unit: 'in',
    ours: () => LINKAGE_PLAY_LIMIT_MM / 25.4,
    source: '49 CFR 570.7(b), regulation read',
  },
  {
    name: 'wheel bearing play at the sidewall',
    published: 0.125,
    tolerance: NOISE,
    unit: 'in',
    ours: () => BEARING_PLAY_LIMIT_MM / 25.4,
    source: 'Maryland 11.22.03.04, read',
  },
];

/** every row is an eighth of the wheel: 0.25 rad, 14.32° */
const ANGLE: readonly PublishedCheck[] = [16, 18, 20, 22].map((diameterIn) => ({
  name: `steering wheel of ${diameterIn} in: lash as an angle`,
  published: 14.32,
  tolerance: 0.01,
  unit: '°',
  ours: () => (limitIn(diameterIn) / (diameterIn / 2)) * (180 / Math.PI),
  source: `${TABLE}; the angle by arithmetic`,
}));

const MORE: readonly PublishedCheck[] = [
  {
    name: 'steering wheel of 17 in: lash between two rows',
    published: 53.98,
    tolerance: 0.01,
    unit: 'mm',
    ours: () => limitMm(17),
    source: `${TABLE}; 17/8 in by arithmetic`,
  },
  {
    name: 'UK road test, rack: 13 mm at 380 mm as an angle',
    published: 3.92,
    tolerance: 0.01,
    unit: '°',
    ours: () => (playAtUkWheel(13, 380) / (380 / 2)) * (180 / Math.PI),
    source: 'UK MOT manual 2.2, secondary source; the angle by arithmetic',
  },
  {
    name: 'play of 12 mm at a 350 mm wheel, at 380 mm',
    published: 13.03,
    tolerance: 0.005,
    unit: 'mm',
    ours: () => playAtUkWheel(12, 350),
    source: 'UK MOT manual 2.2: scales with the wheel; arithmetic',
  },
];

/** Steering play and the play of wheels. */
export const CHECKS: readonly PublishedCheck[] = [
  ...LASH,
  ...ANGLE,
  ...MORE,
  ...MIRRORS,
  ...ELSEWHERE,
  ...STATES,
  ...PLAY,
];
