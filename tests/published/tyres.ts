import { convert } from '../../src/domain/quantity.ts';
import { NotComputable } from '../../src/domain/trade/calculation.ts';
import { standardAtmosphereKpa } from '../../src/domain/trade/standard-atmosphere.ts';
import { treadwearGrade, treadwearIndex } from '../../src/domain/trade/tyres/treadwear-grade.ts';
import { findIsoWeek, findSundayWeek, readTyreCode } from '../../src/domain/trade/tyres/tyre-age.ts';
import { hotPressureKpa } from '../../src/domain/trade/tyres/tyre-pressure.ts';
import { compareSpeedSymbols, loadOfIndex, speedOfSymbol } from '../../src/domain/trade/tyres/tyre-rating-tables.ts';
import { capacityAtSpeedKg, parseTyreRating } from '../../src/domain/trade/tyres/tyre-rating.ts';
import type { PublishedCheck } from './published-check.ts';

const NOISE = 1e-9;
const to = (value: number, from: 'psi' | '°F' | 'kPa' | 'lb' | 'km/h', unit: 'psi' | '°C' | 'kPa' | 'kg' | 'mph') =>
  convert(value, from, unit) ?? Number.NaN;

/** Gauge psi to gauge psi, temperatures in °C, with the 14.7 psi of air the examples take. */
function hotPsi(coldPsi: number, fromC: number, toC: number): number {
  const kpa = hotPressureKpa(to(coldPsi, 'psi', 'kPa'), fromC, toC, to(14.7, 'psi', 'kPa'));
  return to(kpa, 'kPa', 'psi');
}
const hotPsiF = (coldPsi: number, fromF: number, toF: number) =>
  hotPsi(coldPsi, to(fromF, '°F', '°C'), to(toF, '°F', '°C'));

/** Examples that put 0 °C at 273 K instead of 273.15: the same absolute temperatures in true °C. */
const kelvin273 = (celsius: number) => celsius - 0.15;

const MAGAZINE = 'chemistry magazine of a university, September 2014 (secondary)';
const MAILING_LIST = 'worked example of a club mailing list, 2002 (secondary)';

const PRESSURE: readonly PublishedCheck[] = [
  {
    name: 'W02 tyre pressure 30 psi, 20 to -25 °C',
    published: 23.14,
    tolerance: 0.01,
    unit: 'psi',
    ours: () => hotPsi(30, 20, -25),
    source: MAGAZINE,
  },
  {
    name: 'W03 tyre pressure 206.8 kPa, 20 to -25 °C',
    published: 159.5,
    tolerance: 0.1,
    unit: 'kPa',
    ours: () => hotPressureKpa(206.8, 20, -25, 101.33),
    source: MAGAZINE,
  },
  {
    name: 'W04-N tyre pressure W02 by scaling the gauge reading',
    published: 25.4,
    tolerance: 0.5,
    wrong: true,
    unit: 'psi',
    ours: () => hotPsi(30, 20, -25),
    source: `${MAGAZINE}, which names it as the wrong answer`,
  },
  {
    name: 'W05 tyre pressure 42.5 psi, -16 to 44.2 °C, 0 °C at 273 K',
    published: 55.8986,
    tolerance: 0.001,
    unit: 'psi',
    ours: () => hotPsi(42.5, kelvin273(-16), kelvin273(44.2)),
    source: 'worked problem on a physics forum (secondary)',
  },
  {
    name: 'W06 tyre pressure 20 psi, 70 to 130 °F',
    published: 23.9,
    tolerance: 0.05,
    unit: 'psi',
    ours: () => hotPsiF(20, 70, 130),
    source: MAILING_LIST,
  },
  {
    name: 'tyre pressure 20 psi, 70 to 50 °F',
    published: 18.7,
    tolerance: 0.05,
    unit: 'psi',
    ours: () => hotPsiF(20, 70, 50),
    source: MAILING_LIST,
  },
  {
    name: 'tyre pressure 658 kPa, 20 to 60 °C, 0 °C at 273 K',
    published: 761.66,
    tolerance: 0.01,
    unit: 'kPa',
    ours: () => hotPressureKpa(658, kelvin273(20), kelvin273(60), 101.3),
    source: 'solved homework problem (secondary)',
  },
  {
    name: 'tyre pressure 30 psi, 11 to 54 °C by scaling the gauge reading',
    published: 34.5,
    tolerance: 1,
    wrong: true,
    unit: 'psi',
    ours: () => hotPsi(30, 11, 54),
    source: 'solved homework problem that forgets the air outside',
  },
  {
    name: 'tyre pressure 35 psi and 10 °F more by the rule of 2 %',
    published: 35.7,
    tolerance: 0.15,
    wrong: true,
    unit: 'psi',
    ours: () => hotPsiF(35, 68, 78),
    source: 'rule of thumb of a calculator page; the gas law gives 35.9',
  },
];

const ATMOSPHERE: readonly PublishedCheck[] = [
  { ft: 5000, psi: 12.228 },
  { ft: 10_000, psi: 10.108 },
  { ft: 15_000, psi: 8.297 },
].map(({ ft, psi }) => ({
  name: `standard atmosphere at ${ft} ft`,
  published: psi,
  tolerance: 0.005,
  unit: 'psi',
  ours: () => to(standardAtmosphereKpa(ft * 0.3048), 'kPa', 'psi'),
  source: 'US Standard Atmosphere 1976, table on an engineering page (secondary)',
}));

const codeText = (code: string): string => {
  const { week, year } = readTyreCode(code);
  return `week ${week} of ${year}`;
};
const yearOrRefusal = (code: string): string => {
  try {
    return String(readTyreCode(code).year);
  } catch (error) {
    return error instanceof NotComputable ? `refused: ${error.faults[0]?.code}` : 'failed';
  }
};

/** Sunday week and ISO Monday: worked out by hand when the reference table was made. */
const TIN_WEEKS = [
  { code: '3500', text: 'week 35 of 2000', sunday: '2000-08-27 to 2000-09-02', monday: '2000-08-28', id: 'W07 ' },
  { code: '0301', text: 'week 3 of 2001', sunday: '2001-01-21 to 2001-01-27', monday: '2001-01-15', id: 'W07 ' },
  { code: '4714', text: 'week 47 of 2014', sunday: '2014-11-23 to 2014-11-29', monday: '2014-11-17', id: 'W07 ' },
  { code: '2501', text: 'week 25 of 2001', sunday: '2001-06-24 to 2001-06-30', monday: '2001-06-18', id: '' },
  { code: '2324', text: 'week 23 of 2024', sunday: '2024-06-09 to 2024-06-15', monday: '2024-06-03', id: '' },
  { code: '3623', text: 'week 36 of 2023', sunday: '2023-09-03 to 2023-09-09', monday: '2023-09-04', id: '' },
  { code: '5323', text: 'week 53 of 2023', sunday: '2023-12-31 to 2024-01-06', monday: 'none', id: '' },
  { code: '5220', text: 'week 52 of 2020', sunday: '2020-12-27 to 2021-01-02', monday: '2020-12-21', id: '' },
] as const;

const DATE_CODES: readonly PublishedCheck[] = TIN_WEEKS.flatMap(({ code, text, sunday, monday, id }) => {
  const read = () => readTyreCode(code);
  const week = () => findSundayWeek(read().year, read().week);
  return [
    {
      name: `${id}tyre code ${code}`,
      published: text,
      ours: () => codeText(code),
      source: 'explanations of the date code by agency, clubs and trade pages (secondary)',
    },
    {
      name: `tyre code ${code}: Sunday week`,
      published: sunday,
      ours: () => `${week()?.earliest} to ${week()?.latest}`,
      source: 'first full calendar week is week 01 (secondary), dates derived by hand',
    },
    {
      name: `tyre code ${code}: Monday of the ISO week`,
      published: monday,
      ours: () => findIsoWeek(read().year, read().week)?.earliest ?? 'none',
      source: 'ISO 8601 week rule (secondary), dates derived by hand',
    },
  ];
});

const WRONG_CODES: readonly PublishedCheck[] = [
  {
    name: 'W08-N tyre code 436 read as 2006',
    published: '2006',
    wrong: true,
    ours: () => yearOrRefusal('436'),
    source: 'legal blog; three-digit codes ended in 2000',
  },
  {
    name: 'tyre code 031 read as 1991',
    published: '1991',
    wrong: true,
    ours: () => yearOrRefusal('031'),
    source: 'agency explanation: 1981 or 1991, not to be told (secondary)',
  },
];

const UTQG = '49 CFR 575.104(d)(2)(i) and agency letter 10811, read';
const TREADWEAR: readonly PublishedCheck[] = [
  {
    name: 'W09 treadwear index of 5,000 miles',
    published: 16.67,
    tolerance: 0.005,
    ours: () => treadwearIndex(5000),
    source: UTQG,
  },
  { name: 'W09 treadwear grade of 5,000 miles', published: 0, ours: () => treadwearGrade(5000), source: UTQG },
  ...[
    [60_000, 200],
    [66_000, 220],
    [9000, 20],
  ].map(([miles = 0, grade = 0]) => ({
    name: `treadwear grade of ${miles} miles`,
    published: grade,
    ours: () => treadwearGrade(miles),
    source: `${UTQG}; arithmetic derived`,
  })),
];

// biome-ignore format: as printed
const LOADS: readonly (readonly [index: number, kg: number])[] = [
  [71, 345], [72, 355], [74, 375], [75, 387], [76, 400], [77, 412], [78, 425], [79, 437], [80, 450], [81, 462],
  [82, 475], [83, 487], [84, 500], [85, 515], [86, 530], [87, 545], [88, 560], [89, 580], [90, 600], [91, 615],
  [92, 630], [93, 650], [94, 670], [95, 690], [96, 710], [97, 730], [98, 750], [99, 775], [100, 800], [101, 825],
  [102, 850], [103, 875], [104, 900], [105, 925], [106, 950], [107, 975], [108, 1000], [109, 1030], [110, 1060],
  [112, 1120], [113, 1150], [114, 1180], [115, 1215], [116, 1250], [117, 1285], [118, 1320], [119, 1360],
  [120, 1400], [121, 1450], [122, 1500], [123, 1550],
  // from two further public charts
  [60, 250], [61, 257], [62, 265], [63, 272], [64, 280], [65, 290], [66, 300], [67, 307], [68, 315], [69, 325],
  [70, 335], [73, 365], [111, 1090],
];
const W10 = new Set([91, 94, 100, 110]);

const LOAD_INDEX: readonly PublishedCheck[] = [
  ...LOADS.map(([index, kg]) => ({
    name: `${W10.has(index) ? 'W10 ' : ''}load index ${index}`,
    published: kg,
    unit: 'kg',
    ours: () => loadOfIndex(index) ?? 'unknown',
    source: 'load index table of ISO 4000-1 and UNECE R30 on public charts (secondary)',
  })),
  ...[
    { index: 103, kg: 857 },
    { index: 105, kg: 924 },
    { index: 61, kg: 265 },
    { index: 62, kg: 165 },
    { index: 83, kg: 478 },
  ].map(({ index, kg }) => ({
    name: `load index ${index} misprinted`,
    published: kg,
    wrong: true as const,
    unit: 'kg',
    ours: () => loadOfIndex(index) ?? 'unknown',
    source: 'misprint on a public chart; others agree on another value',
  })),
  ...[
    { index: 103, lb: 1929 },
    { index: 105, lb: 2039 },
  ].map(({ index, lb }) => ({
    name: `load index ${index} in lb`,
    published: to(lb, 'lb', 'kg'),
    tolerance: 0.3,
    unit: 'kg',
    ours: () => loadOfIndex(index) ?? 'unknown',
    source: 'pounds of the same chart, by 0.45359237 (secondary)',
  })),
];

const AT_SPEED: readonly PublishedCheck[] = [
  { id: 'W11 ', rating: '91V', kmh: 240, kg: 559.65, source: 'V to 91 % (secondary), arithmetic derived' },
  { id: '', rating: '91V', kmh: 225, kg: 587.325, source: 'V, halfway (secondary), arithmetic derived' },
  { id: '', rating: '91V', kmh: 210, kg: 615, source: 'V, full load to 210 km/h (secondary)' },
  { id: '', rating: '91W', kmh: 270, kg: 522.75, source: 'W to 85 % (secondary), arithmetic derived' },
  { id: '', rating: '91W', kmh: 240, kg: 615, source: 'W, full load to 240 km/h (secondary)' },
  { id: '', rating: '102V', kmh: 240, kg: 773.5, source: 'worked example of a motorcycle forum (secondary)' },
].map(({ id, rating, kmh, kg, source }) => ({
  name: `${id}load of ${rating} at ${kmh} km/h`,
  published: kg,
  tolerance: NOISE,
  unit: 'kg',
  ours: () => capacityAtSpeedKg(parseTyreRating(rating), kmh),
  source,
}));

const SYMBOLS = 'speed symbol charts that agree (secondary)';
// biome-ignore format: as printed
const KMH: readonly (readonly [symbol: string, kmh: number])[] = [
  ['L', 120], ['M', 130], ['N', 140], ['P', 150], ['Q', 160], ['R', 170], ['S', 180], ['T', 190], ['U', 200],
  ['H', 210], ['V', 240], ['W', 270], ['Y', 300], ['ZR', 240],
];
// biome-ignore format: as printed
const MPH: readonly (readonly [symbol: string, mph: number])[] = [
  ['Q', 99], ['S', 112], ['T', 118], ['U', 124], ['H', 130], ['V', 149], ['W', 168], ['Y', 186],
];
const inOrder = (symbols: readonly string[]): string =>
  symbols.toSorted((a, b) => compareSpeedSymbols(a, b) ?? Number.NaN).join(' < ');

const SPEED: readonly PublishedCheck[] = [
  ...KMH.map(([symbol, kmh]) => ({
    name: `speed symbol ${symbol}`,
    published: kmh,
    unit: 'km/h',
    ours: () => speedOfSymbol(symbol) ?? 'unknown',
    source: SYMBOLS,
  })),
  ...MPH.map(([symbol, mph]) => ({
    name: `speed symbol ${symbol} in mph`,
    published: mph,
    tolerance: 0.55,
    unit: 'mph',
    ours: () => to(speedOfSymbol(symbol) ?? Number.NaN, 'km/h', 'mph'),
    source: `${SYMBOLS}; printed in whole mph, rounded down or up`,
  })),
  {
    name: 'W12 speed symbols in order',
    published: 'U < H < V',
    ours: () => inOrder(['H', 'U', 'V']),
    source: SYMBOLS,
  },
  {
    name: 'W12-N speed symbols by the alphabet',
    published: 'H < U < V',
    wrong: true,
    ours: () => inOrder(['V', 'H', 'U']),
    source: 'what an alphabetical comparison would give',
  },
];

/** Tyres: pressure, date codes, treadwear, load and speed. */
export const CHECKS: readonly PublishedCheck[] = [
  ...PRESSURE,
  ...ATMOSPHERE,
  ...DATE_CODES,
  ...WRONG_CODES,
  ...TREADWEAR,
  ...LOAD_INDEX,
  ...AT_SPEED,
  ...SPEED,
];
