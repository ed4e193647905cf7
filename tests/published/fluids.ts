import { convert } from '../../src/domain/quantity.ts';
import {
  antoineBoilingC,
  boilingUnderPressureC,
  glycolBoilingAtSeaLevelC,
  glycolFreezingC,
  glycolPercentsFor,
  MMHG_PER_KPA,
  rootsAt,
  waterBoilingC,
  waterBoilingKpa,
} from '../../src/domain/trade/fluids/coolant-glycol.ts';
import { ruleOfThumbBoilingF, waterBoilingUnderCapC } from '../../src/domain/trade/fluids/coolant.ts';
import {
  findHotGrade,
  findWinterGrade,
  hotGradesOfKv100,
} from '../../src/domain/trade/fluids/engine-oil-grade-table.ts';
import { findFluidMinimum, labelAgrees } from '../../src/domain/trade/brakes/fluid-boiling.ts';
import { gearGradeOfKv100, gearOilGrade } from '../../src/domain/trade/fluids/gear-oil-grade.ts';
import type { PublishedCheck } from './published-check.ts';

const ATM_KPA = 101.325;
const kpa = (psi: number): number => convert(psi, 'psi', 'kPa') ?? Number.NaN;
const fahrenheit = (celsius: number | undefined): number => convert(celsius ?? Number.NaN, '°C', '°F') ?? Number.NaN;
const celsius = (f: number): number => convert(f, '°F', '°C') ?? Number.NaN;
const waterF = (psig: number): number => fahrenheit(waterBoilingUnderCapC(kpa(psig), ATM_KPA));

const FMVSS = '49 CFR 571.116 S5.1.1 to S5.1.3, quoted text (secondary)';
const BRAKE_FLUID: readonly PublishedCheck[] = [
  { grade: 'DOT 3', dry: [205, 401], wet: [140, 284], viscosity: 1500 },
  { grade: 'DOT 4', dry: [230, 446], wet: [155, 311], viscosity: 1800 },
  { grade: 'DOT 5', dry: [260, 500], wet: [180, 356], viscosity: 900 },
  { grade: 'DOT 5.1', dry: [260, 500], wet: [180, 356], viscosity: 900 },
].flatMap(({ grade, dry: [dryC = 0, dryF = 0], wet: [wetC = 0, wetF = 0], viscosity }) => {
  const minimum = () => findFluidMinimum(grade);
  const id = grade === 'DOT 4' ? 'W01 ' : '';
  const check = (what: string, published: number, unit: string, ours: () => number | undefined) => ({
    name: `${id}${grade} ${what}`,
    published,
    unit,
    tolerance: 1e-9,
    ours: () => ours() ?? 'unknown',
    source: FMVSS,
  });
  return [
    check('dry minimum', dryC, '°C', () => minimum()?.dryC),
    check('dry minimum in °F', dryF, '°F', () => fahrenheit(minimum()?.dryC)),
    check('wet minimum', wetC, '°C', () => minimum()?.wetC),
    check('wet minimum in °F', wetF, '°F', () => fahrenheit(minimum()?.wetC)),
    check('viscosity at -40 °C at most', viscosity, 'mm²/s', () => minimum()?.viscosityAtMinus40),
  ];
});

const MIRROR = 'encyclopedia mirrors, corrected in a later revision of the same article';
const WRONG_BRAKE_FLUID: readonly PublishedCheck[] = [
  {
    name: 'DOT 5.1 dry minimum of 270 °C',
    published: 270,
    wrong: true,
    unit: '°C',
    ours: () => findFluidMinimum('DOT 5.1')?.dryC ?? Number.NaN,
    source: MIRROR,
  },
  {
    name: 'DOT 5.1 wet minimum of 191 °C',
    published: 191,
    tolerance: 1,
    wrong: true,
    unit: '°C',
    ours: () => findFluidMinimum('DOT 5.1')?.wetC ?? Number.NaN,
    source: MIRROR,
  },
  {
    name: 'label of 191 °C and 600 °F taken as one temperature',
    published: 'agrees',
    wrong: true,
    ours: () => (labelAgrees({ c: 191, f: 600 }) === true ? 'agrees' : 'disagrees'),
    source: MIRROR,
  },
];

const STEAM = 'steam table of a handbook, copied on a public page (secondary)';
const W25 = new Set([14, 16, 20]);
const STEAM_TABLE: readonly PublishedCheck[] = [
  // psig, °F of the table, °F by the high Antoine set
  [0, 212, 211.7],
  [5, 227, 227.1],
  [10, 239, 239.5],
  [14, 248, 248],
  [16, 252, 251.9],
  [18, 256, 255.5],
  [20, 259, 259],
  [30, 274, 274.4],
].flatMap(([psig = 0, table = 0, antoine = 0]) => [
  {
    name: `${W25.has(psig) ? 'W25 ' : ''}water under ${psig} psi`,
    published: table,
    tolerance: 1,
    unit: '°F',
    ours: () => waterF(psig),
    source: STEAM,
  },
  {
    name: `water under ${psig} psi by Antoine`,
    published: antoine,
    tolerance: 0.06,
    unit: '°F',
    ours: () => fahrenheit(antoineBoilingC((kpa(psig) + ATM_KPA) * MMHG_PER_KPA, 'high')),
    source: 'Antoine constants, 99 to 374 °C (secondary), arithmetic derived',
  },
  {
    name: `water under ${psig} psi, Antoine against the steam table`,
    published: table,
    tolerance: 1,
    unit: '°F',
    ours: () => fahrenheit(antoineBoilingC((kpa(psig) + ATM_KPA) * MMHG_PER_KPA, 'high')),
    source: STEAM,
  },
]);

const IF97 = 'IAPWS R7-97(2012) tables 35 and 36, as quoted by open implementations (secondary)';
const WATER: readonly PublishedCheck[] = [
  ...[
    [100, 101.33],
    [120, 198.5],
    [140, 361.6],
    [160, 618],
  ].map(([at = 0, published = 0]) => ({
    name: `vapour pressure of water at ${at} °C`,
    published,
    tolerance: 0.3,
    unit: 'kPa',
    ours: () => waterBoilingKpa(at),
    source: 'saturated steam table of a public laboratory page (secondary)',
  })),
  ...[
    [100, 372.755919],
    [1000, 453.035632],
    [10_000, 584.149488],
  ].map(([at = 0, published = 0]) => ({
    name: `saturation temperature at ${at} kPa`,
    published,
    tolerance: 1e-6,
    unit: 'K',
    ours: () => waterBoilingC(at) + 273.15,
    source: IF97,
  })),
  ...[
    [300, 3.53658941],
    [500, 2638.89776],
    [600, 12_344.3146],
  ].map(([at = 0, published = 0]) => ({
    name: `saturation pressure at ${at} K`,
    published,
    tolerance: published * 1e-8,
    unit: 'kPa',
    ours: () => waterBoilingKpa(at - 273.15),
    source: IF97,
  })),
];

const ANTOINE = 'Antoine constants of an engineering page (secondary), arithmetic derived';
const COOLANT_TRAPS: readonly PublishedCheck[] = [
  {
    name: 'Antoine at 760 mmHg, low set',
    published: 99.997,
    tolerance: 0.001,
    unit: '°C',
    ours: () => antoineBoilingC(760, 'low'),
    source: ANTOINE,
  },
  {
    name: 'Antoine at 760 mmHg, high set',
    published: 99.84,
    tolerance: 0.005,
    unit: '°C',
    ours: () => antoineBoilingC(760, 'high'),
    source: ANTOINE,
  },
  {
    name: 'W27 Antoine at 380 torr',
    published: 81.72,
    tolerance: 0.01,
    unit: '°C',
    ours: () => antoineBoilingC(380, 'low'),
    source: ANTOINE,
  },
  {
    name: 'W27-N Antoine at 380 torr, taken as 285 mmHg',
    published: 74.8,
    tolerance: 1,
    wrong: true,
    unit: '°C',
    ours: () => antoineBoilingC(380, 'low'),
    source: 'worked problem that takes 1 torr as 1.333 mmHg',
  },
  {
    name: 'W26-N water under 30 psi by 3 °F per psi',
    published: 302,
    tolerance: 5,
    wrong: true,
    unit: '°F',
    ours: () => waterF(30),
    source: 'rule of thumb on forum pages; the steam table has 274 °F',
  },
  ...[
    [15, 257],
    [30, 302],
  ].map(([psi = 0, published = 0]) => ({
    name: `rule of thumb for water at ${psi} psi`,
    published,
    unit: '°F',
    ours: () => ruleOfThumbBoilingF(212, psi),
    source: 'rule of 3 °F per psi on a forum page (secondary); shown for comparison',
  })),
  {
    name: 'rule of thumb for half ethylene glycol at 15 psi',
    published: 268,
    unit: '°F',
    ours: () => ruleOfThumbBoilingF(223, 15),
    source: 'forum page (secondary); shown for comparison',
  },
  {
    name: 'half ethylene glycol at 1 atm',
    published: 223,
    tolerance: 0.1,
    unit: '°F',
    ours: () => fahrenheit(glycolBoilingAtSeaLevelC('ethylene', 50)),
    source: 'forum page (secondary); the one point the estimate is set by',
  },
  {
    name: 'half ethylene glycol under 15 psi: sources from 257 to 268 °F',
    published: 262.5,
    tolerance: 5.5,
    unit: '°F',
    ours: () => fahrenheit(boilingUnderPressureC(celsius(223), kpa(15) + ATM_KPA)),
    source: 'statements of makers and forum pages that disagree (secondary)',
  },
];

const MAKER = 'engine maker, table of ethylene glycol and water (secondary)';
const HANDBOOK = 'chemistry handbook, table of propylene glycol by volume, signs restored (secondary)';
// biome-ignore format: as printed
const ETHYLENE = [
  [28.4, -10], [32.8, -15], [38.5, -20], [45.3, -25], [47.8, -30], [50, -35], [54, -40], [57, -45], [59, -50],
  [80, -45], [85, -30], [100, -13],
];
// biome-ignore format: as printed
const PROPYLENE = [
  [5, -1.1], [10, -2.2], [15, -3.9], [20, -6.7], [25, -8.9], [30, -12.8], [35, -16.1], [40, -20.6], [45, -26.7],
  [50, -33.3],
];
const list = (numbers: readonly number[]): string => numbers.join(' and ');

const FREEZING: readonly PublishedCheck[] = [
  ...ETHYLENE.map(([percent = 0, freezes = 0]) => ({
    name: `ethylene glycol ${percent} % freezes`,
    published: freezes,
    unit: '°C',
    ours: () => glycolFreezingC('ethylene', percent) ?? 'unknown',
    source: MAKER,
  })),
  ...PROPYLENE.map(([percent = 0, freezes = 0]) => ({
    name: `propylene glycol ${percent} % freezes`,
    published: freezes,
    unit: '°C',
    ours: () => glycolFreezingC('propylene', percent) ?? 'unknown',
    source: HANDBOOK,
  })),
  {
    name: 'W28 ethylene glycol for -45 °C',
    published: '57 and 80',
    unit: '%',
    ours: () => list(glycolPercentsFor('ethylene', -45)),
    source: MAKER,
  },
  {
    name: 'ethylene glycol for -30 °C',
    published: '47.8 and 85',
    unit: '%',
    ours: () => list(glycolPercentsFor('ethylene', -30)),
    source: MAKER,
  },
  {
    name: 'W29 between 30 % at -15 °C and 40 % at -23 °C: -20 °C',
    published: '36.25',
    unit: '%',
    ours: () =>
      list(
        rootsAt(
          [
            [30, -15],
            [40, -23],
          ],
          -20,
        ),
      ),
    source: 'interpolation worked on an engineering page, for ethanol (secondary)',
  },
  {
    name: 'propylene glycol 50 % freezes at 28 °F',
    published: 28,
    tolerance: 5,
    wrong: true,
    unit: '°F',
    ours: () => fahrenheit(glycolFreezingC('propylene', 50)),
    source: 'scan of the handbook that lost the sign of -28 °F',
  },
];

const J300 = 'SAE J300, 20 January 2015, table on a public page (secondary)';
const J300_1999 = 'SAE J300, December 1999, table on a public page (secondary)';
const WINTER_GRADES: readonly PublishedCheck[] = [
  { grade: '0W', published: '6200 at -35, pumps at -40, 3.8' },
  { grade: '5W', published: '6600 at -30, pumps at -35, 3.8' },
  { grade: '10W', published: '7000 at -25, pumps at -30, 4.1' },
  { grade: '15W', published: '7000 at -20, pumps at -25, 5.6' },
  { grade: '20W', published: '9500 at -15, pumps at -20, 5.6' },
  { grade: '25W', published: '13000 at -10, pumps at -15, 9.3' },
].map(({ grade, published }) => ({
  name: `J300 ${grade}: cranking, pumping, viscosity at 100 °C`,
  published,
  ours: () => {
    const limits = findWinterGrade(grade);
    return `${limits?.crankingMax} at ${limits?.crankingC}, pumps at ${limits?.pumpingC}, ${limits?.kv100Min}`;
  },
  source: J300,
}));

const HOT_GRADES: readonly PublishedCheck[] = [
  { grade: '8', winter: '0W', published: '4 to 6.1, 1.7' },
  { grade: '12', winter: '0W', published: '5 to 7.1, 2' },
  { grade: '16', winter: '0W', published: '6.1 to 8.2, 2.3' },
  { grade: '20', winter: '0W', published: '6.9 to 9.3, 2.6' },
  { grade: '30', winter: '5W', published: '9.3 to 12.5, 2.9' },
  { grade: '40', winter: '10W', published: '12.5 to 16.3, 3.5' },
  { grade: '40', winter: '15W', published: '12.5 to 16.3, 3.7' },
  { grade: '50', winter: '15W', published: '16.3 to 21.9, 3.7' },
  { grade: '60', winter: '10W', published: '21.9 to 26.1, 3.7' },
].map(({ grade, winter, published }) => ({
  name: `J300 ${winter}-${grade}: viscosity at 100 °C and high-shear`,
  published,
  ours: () => {
    const limits = findHotGrade(grade, '2015', winter);
    return `${limits?.kv100Min} to ${limits?.kv100Below}, ${limits?.hths150Min}`;
  },
  source: J300,
}));

const GRADE_OF_VISCOSITY: readonly PublishedCheck[] = [
  {
    name: 'W31 engine oil of 6.5 mm²/s under J300 of 2015',
    published: '12, 16',
    ours: () => hotGradesOfKv100(6.5, '2015').join(', '),
    source: J300,
  },
  {
    name: 'W31 engine oil of 6.5 mm²/s under J300 of 1999',
    published: '20',
    ours: () => hotGradesOfKv100(6.5, '1999').join(', '),
    source: J300_1999,
  },
  {
    name: 'J300 20 at least 5.6 mm²/s, as the 1999 edition had it',
    published: 5.6,
    wrong: true,
    unit: 'mm²/s',
    ours: () => findHotGrade('20', '2015')?.kv100Min ?? Number.NaN,
    source: 'pages that still print the edition of 1999',
  },
  {
    name: 'J300 5W-40 high-shear of 2.9, as the 1999 edition had it',
    published: 2.9,
    wrong: true,
    unit: 'mPa·s',
    ours: () => findHotGrade('40', '2015', '5W')?.hths150Min ?? Number.NaN,
    source: 'pages that still print the edition of 1999',
  },
  {
    name: 'J300 of 1999, 5W-40 high-shear',
    published: 2.9,
    unit: 'mPa·s',
    ours: () => findHotGrade('40', '1999', '5W')?.hths150Min ?? Number.NaN,
    source: J300_1999,
  },
  {
    name: 'J300 10W cranking at -30 °C',
    published: -30,
    wrong: true,
    unit: '°C',
    ours: () => findWinterGrade('10W')?.crankingC ?? Number.NaN,
    source: 'misprint of one mirror',
  },
  {
    name: 'W30 gear oil of 19.5 mm²/s since 2005',
    published: '110',
    ours: () => gearGradeOfKv100(19.5, '2019') ?? 'none',
    source: 'abstract of SAE J306, 2005 (secondary)',
  },
  {
    name: 'W30 gear oil of 19.5 mm²/s before 2005',
    published: '90',
    ours: () => gearGradeOfKv100(19.5, 'before-2005') ?? 'none',
    source: 'abstract of SAE J306, 2005 (secondary)',
  },
];

const J306 = 'SAE J306, February 2019, table on a public page (secondary)';
const GEAR_OIL: readonly PublishedCheck[] = [
  ...[
    ['65', 3.8, 5],
    ['70', 5, 6.5],
    ['75', 6.5, 8.5],
    ['80', 8.5, 11],
    ['85', 11, 13.5],
    ['90', 13.5, 18.5],
    ['110', 18.5, 24],
    ['140', 24, 32.5],
    ['190', 32.5, 41],
    ['250', 41, 'no limit'],
  ].map(([grade, min, below]) => ({
    name: `J306 ${grade}: viscosity at 100 °C`,
    published: `${min} to ${below}`,
    ours: () => {
      const { kv100Min, kv100Below } = gearOilGrade(String(grade));
      return `${kv100Min} to ${kv100Below ?? 'no limit'}`;
    },
    source: J306,
  })),
  ...[
    ['70W', -55, 3.8],
    ['75W', -40, 3.8],
    ['80W', -26, 8.5],
    ['85W', -12, 11],
  ].map(([grade, cold, min]) => ({
    name: `J306 ${grade}: cold temperature and viscosity at 100 °C`,
    published: `${cold}, ${min}`,
    ours: () => {
      const { winter, kv100Min } = gearOilGrade(String(grade));
      return `${winter?.limits.coldC}, ${kv100Min}`;
    },
    source: J306,
  })),
];

/** Brake fluid, coolant, engine and gear oil. */
export const CHECKS: readonly PublishedCheck[] = [
  ...BRAKE_FLUID,
  ...WRONG_BRAKE_FLUID,
  ...STEAM_TABLE,
  ...WATER,
  ...COOLANT_TRAPS,
  ...FREEZING,
  ...WINTER_GRADES,
  ...HOT_GRADES,
  ...GRADE_OF_VISCOSITY,
  ...GEAR_OIL,
];
