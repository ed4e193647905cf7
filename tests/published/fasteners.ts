import { convert, type Unit } from '../../src/domain/quantity.ts';
import {
  engagementDiameters,
  FASTENER_TORQUE,
  preloadForTorque,
  torqueForPreload,
} from '../../src/domain/trade/safety/fastener-torque.ts';
import {
  metricStressAreaMm2,
  parseThread,
  PROPERTY_CLASSES,
  proofLoadOf,
  proofStressMpa,
} from '../../src/domain/trade/safety/fastener-torque-threads.ts';
import type { PublishedCheck } from './published-check.ts';

const BOLT_PAGE = 'bolt torque page, M12 class 8.8 example (secondary)';
const INCH_PAGE = 'bolt torque page, 3/8-16 grade 5 example (secondary)';
const ISO_898 = 'ISO 898-1, coarse threads, two mirrors that agree (secondary)';
const MANUAL = 'service manual B, wheels section, exact conversion (secondary)';

/** thread, coarse pitch mm, stress area mm², proof loads N of 8.8, 10.9, 12.9 as published */
const ISO_898_ROWS = [
  ['M6', 1, 20.1, 11_600, 16_700, 19_500],
  ['M8', 1.25, 36.6, 21_200, 30_400, 35_500],
  ['M10', 1.5, 58, 33_700, 48_100, 56_300],
  ['M12', 1.75, 84.3, 48_900, 70_000, 81_800],
  ['M14', 2, 115, 66_700, 95_500, 112_000],
  ['M16', 2, 157, 91_000, 130_000, 152_000],
  ['M20', 2.5, 245, 147_000, 203_000, 238_000],
] as const;

const shown = (body: Record<string, unknown>) => FASTENER_TORQUE.compute(FASTENER_TORQUE.input.parse(body)).result;
const to = (value: number, from: Unit, unit: Unit): number => convert(value, from, unit) ?? Number.NaN;
const area = (text: string): number => {
  const thread = parseThread(text);
  return thread === undefined ? Number.NaN : metricStressAreaMm2(thread.diameterMm, thread.pitchMm);
};
const formulaProof = (text: string, propertyClass: '8.8' | '10.9' | '12.9'): number =>
  area(text) * proofStressMpa(propertyClass, parseThread(text)?.diameterMm ?? Number.NaN);

const inch = (nutFactor: number): number => {
  const diameterMm = parseThread('3/8-16')?.diameterMm ?? Number.NaN;
  return to(torqueForPreload(to(4940, 'lbf', 'N'), diameterMm, nutFactor), 'N·m', 'lbf·ft');
};

const tableChecks: PublishedCheck[] = ISO_898_ROWS.flatMap(([name, pitch, stressArea, ...loads]) => [
  {
    name: `ISO 898-1 ${name} stress area, by formula`,
    published: stressArea,
    tolerance: stressArea * 0.004,
    unit: 'mm²',
    source: ISO_898,
    ours: () => area(`${name}x${pitch}`),
  },
  ...PROPERTY_CLASSES.flatMap((propertyClass, index): PublishedCheck[] => {
    const published = loads[index] ?? Number.NaN;
    const thread = `${name}x${pitch}`;
    return [
      {
        name: `ISO 898-1 ${name} ${propertyClass} proof load, as used`,
        published,
        unit: 'N',
        source: ISO_898,
        ours: () => {
          const parsed = parseThread(name);
          return (parsed && proofLoadOf(parsed, propertyClass)?.valueN) ?? 'unknown';
        },
      },
      {
        name: `ISO 898-1 ${name} ${propertyClass} proof load, area by formula × proof stress`,
        published,
        tolerance: published * 0.008,
        unit: 'N',
        source: ISO_898,
        ours: () => formulaProof(thread, propertyClass),
      },
    ];
  }),
]);

/** thread diameter and pitch, mm; full turns for one diameter and for one and a half */
const TURNS = [
  [12, 1.5, 8, 12],
  [12, 1.25, 9.6, 14.4],
  [14, 1.5, 9.33, 14],
  [14, 1.25, 11.2, 16.8],
] as const;
const engagementChecks: PublishedCheck[] = TURNS.flatMap(([diameterMm, pitchMm, once, oneAndHalf]) =>
  [
    { turns: once, diameters: 1 },
    { turns: oneAndHalf, diameters: 1.5 },
  ].map(({ turns, diameters }) => ({
    name: `M${diameterMm}×${pitchMm}: ${turns} turns`,
    published: diameters,
    tolerance: 0.001,
    unit: 'diameters',
    source: 'handbook text on studs and nuts, M12×1.5 (secondary); the others by arithmetic',
    ours: () => engagementDiameters({ turns }, { diameterMm, pitchMm }) ?? Number.NaN,
  })),
);

export const CHECKS: readonly PublishedCheck[] = [
  ...engagementChecks,
  {
    name: '8 turns on M14×1.5 are one diameter, as on M12×1.5',
    published: 1,
    tolerance: 0.1,
    wrong: true,
    unit: 'diameters',
    source: 'arithmetic: 12 mm of 14',
    ours: () => engagementDiameters({ turns: 8 }, { diameterMm: 14, pitchMm: 1.5 }) ?? Number.NaN,
  },
  {
    name: 'W14 M12 8.8 at 70 % of proof, K 0.20: preload',
    published: 34_226,
    tolerance: 171,
    unit: 'N',
    source: BOLT_PAGE,
    ours: () => shown({ thread: 'M12', propertyClass: '8.8', proofSharePercent: 70, nutFactor: 0.2 }).preloadN,
  },
  {
    name: 'W14 M12 8.8 at 70 % of proof, K 0.20: torque',
    published: 82.14,
    tolerance: 0.41,
    unit: 'N·m',
    source: BOLT_PAGE,
    ours: () => shown({ thread: 'M12', propertyClass: '8.8', proofSharePercent: 70, condition: 'dry' }).torqueNm,
  },
  {
    name: 'W14 the same torque at K 0.15: preload',
    published: 45,
    tolerance: 1,
    unit: 'kN',
    source: BOLT_PAGE,
    ours: () => preloadForTorque(82.14, 12, 0.15) / 1000,
  },
  {
    name: 'W14 the same torque at K 0.15: share of proof',
    published: 93,
    tolerance: 0.5,
    unit: '%',
    source: 'arithmetic: 45.6 kN of 48.9 kN',
    ours: () =>
      shown({ thread: 'M12', propertyClass: '8.8', torqueNm: 82.14, nutFactor: 0.15 }).proofSharePercent ?? 'unknown',
  },
  {
    name: 'W14 the same torque at K 0.15 said to be past proof',
    published: 'past',
    wrong: true,
    source: `${BOLT_PAGE}, which errs`,
    ours: () => shown({ thread: 'M12', propertyClass: '8.8', torqueNm: 82.14, nutFactor: 0.15 }).againstProof,
  },
  {
    name: 'W14 the same torque at K 0.30: preload',
    published: 23,
    tolerance: 0.5,
    unit: 'kN',
    source: BOLT_PAGE,
    ours: () => preloadForTorque(82.14, 12, 0.3) / 1000,
  },
  {
    name: 'M12, 100 N·m, K 0.20: preload',
    published: 41.7,
    tolerance: 0.05,
    unit: 'kN',
    source: 'arithmetic',
    ours: () => preloadForTorque(100, 12, 0.2) / 1000,
  },
  {
    name: 'W15 3/8-16, 4940 lbf, K 0.20: torque',
    published: 30,
    tolerance: 1,
    unit: 'lbf·ft',
    source: INCH_PAGE,
    ours: () => inch(0.2),
  },
  {
    name: 'W15 3/8-16, 4940 lbf, K 0.20: torque unrounded',
    published: 30.9,
    tolerance: 0.05,
    unit: 'lbf·ft',
    source: 'arithmetic',
    ours: () => inch(0.2),
  },
  {
    name: 'W15 3/8-16, 4940 lbf, K 0.15: torque',
    published: 23,
    tolerance: 1,
    unit: 'lbf·ft',
    source: INCH_PAGE,
    ours: () => inch(0.15),
  },
  {
    name: 'W15 3/8-16, 4940 lbf, K 0.15: torque unrounded',
    published: 23.2,
    tolerance: 0.05,
    unit: 'lbf·ft',
    source: 'arithmetic',
    ours: () => inch(0.15),
  },
  {
    name: 'W16 M12 coarse 8.8 proof load',
    published: 48_900,
    tolerance: 98,
    unit: 'N',
    source: ISO_898,
    ours: () => formulaProof('M12', '8.8'),
  },
  {
    name: 'W16 M12 coarse 10.9 proof load',
    published: 70_000,
    tolerance: 140,
    unit: 'N',
    source: ISO_898,
    ours: () => formulaProof('M12', '10.9'),
  },
  {
    name: 'W17 9.0 kgf·m',
    published: 88.3,
    tolerance: 0.05,
    unit: 'N·m',
    source: MANUAL,
    ours: () => to(9, 'kgf·m', 'N·m'),
  },
  {
    name: 'W17 11.0 kgf·m',
    published: 107.9,
    tolerance: 0.05,
    unit: 'N·m',
    source: MANUAL,
    ours: () => to(11, 'kgf·m', 'N·m'),
  },
  {
    name: 'W17 9.0 kgf·m in lbf·ft',
    published: 65.1,
    tolerance: 0.05,
    unit: 'lbf·ft',
    source: MANUAL,
    ours: () => to(9, 'kgf·m', 'lbf·ft'),
  },
  {
    name: 'W17 11.0 kgf·m in lbf·ft',
    published: 79.6,
    tolerance: 0.05,
    unit: 'lbf·ft',
    source: MANUAL,
    ours: () => to(11, 'kgf·m', 'lbf·ft'),
  },
  {
    name: 'stress area M12×1.5',
    published: 88.13,
    tolerance: 0.005,
    unit: 'mm²',
    source: 'arithmetic; formula of ISO 898-1 from memory',
    ours: () => area('M12×1.5'),
  },
  {
    name: 'stress area M12×1.25',
    published: 92.07,
    tolerance: 0.005,
    unit: 'mm²',
    source: 'arithmetic; formula of ISO 898-1 from memory',
    ours: () => area('M12x1.25'),
  },
  {
    name: 'stress area M14×1.5',
    published: 124.55,
    tolerance: 0.005,
    unit: 'mm²',
    source: 'arithmetic; formula of ISO 898-1 from memory',
    ours: () => area('M14x1.5'),
  },
  ...tableChecks,
];
