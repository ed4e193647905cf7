import { addDays, daysBetween } from '../../src/domain/calendar.ts';
import { convert, convertDifference, type Unit } from '../../src/domain/quantity.ts';
import type { PublishedCheck } from './published-check.ts';

const NIST = 'NIST SP 811, appendix B.8, as transcribed in a public statistics package (secondary)';
const ISO_8601 = 'ISO 8601 example, quoted on pages about the standard (secondary)';
const ISO_WEEKS = 'ISO 8601 week rules, quoted on pages about the standard (secondary)';

const to = (value: number, from: Unit, unit: Unit): number => convert(value, from, unit) ?? Number.NaN;

/** from, to, factor as printed, half a unit of its last digit; 0 for factors printed as exact */
const FACTORS: readonly (readonly [Unit, Unit, number, number])[] = [
  ['in', 'cm', 2.54, 0],
  ['in', 'm', 0.0254, 0],
  ['ft', 'm', 0.3048, 0],
  ['mi', 'm', 1609.344, 0],
  ['mi', 'km', 1.609344, 0],
  ['mph', 'm/s', 0.44704, 0],
  ['lb', 'kg', 0.4535924, 5e-8],
  ['lbf', 'N', 4.448222, 5e-7],
  ['lbf·ft', 'N·m', 1.355818, 5e-7],
  ['lbf·in', 'N·m', 0.1129848, 5e-8],
  ['psi', 'kPa', 6.894757, 5e-7],
  ['kgf·m', 'N·m', 9.80665, 0],
];

const ordinal = (date: string): string => {
  const year = date.slice(0, 4);
  return `${year}-${String(daysBetween(`${year}-01-01`, date) + 1).padStart(3, '0')}`;
};

/** By the rule that week 1 has the first Thursday, with our day arithmetic; 2000-01-03 was a Monday. */
function weekDate(date: string): string {
  const weekday = ((daysBetween('2000-01-03', date) % 7) + 7) % 7;
  const thursday = addDays(date, 3 - weekday);
  const year = thursday.slice(0, 4);
  const week = Math.floor(daysBetween(`${year}-01-01`, thursday) / 7) + 1;
  return `${year}-W${String(week).padStart(2, '0')}-${weekday + 1}`;
}

const factorChecks: PublishedCheck[] = FACTORS.map(([from, unit, published, tolerance]) => ({
  name: `NIST SP 811: ${from} to ${unit}`,
  published,
  tolerance: tolerance === 0 ? published * 1e-15 : tolerance,
  unit,
  source: NIST,
  ours: () => to(1, from, unit),
}));

export const CHECKS: readonly PublishedCheck[] = [
  ...factorChecks,
  {
    name: 'units: 1 lbf·ft, all digits',
    published: 1.3558179483,
    tolerance: 5e-11,
    unit: 'N·m',
    source: 'arithmetic: 0.45359237·9.80665·0.3048',
    ours: () => to(1, 'lbf·ft', 'N·m'),
  },
  {
    name: 'units: 1 lbf·in, all digits',
    published: 0.112984829,
    tolerance: 5e-11,
    unit: 'N·m',
    source: 'arithmetic: 0.45359237·9.80665·0.0254',
    ours: () => to(1, 'lbf·in', 'N·m'),
  },
  {
    name: 'units: 1 lbf·ft as a public units library has it',
    published: 1.3558180656,
    tolerance: 5e-8,
    wrong: true,
    unit: 'N·m',
    source: 'public units library, off in the eighth digit (secondary)',
    ours: () => to(1, 'lbf·ft', 'N·m'),
  },
  {
    name: 'units: 1 mile as the US survey mile',
    published: 1.609347,
    tolerance: 1e-6,
    wrong: true,
    unit: 'km',
    source: 'page that gives the survey mile as the mile (secondary)',
    ours: () => to(1, 'mi', 'km'),
  },
  { name: 'units: 1/32 in', published: 0.79375, unit: 'mm', source: 'arithmetic', ours: () => to(1, '1/32in', 'mm') },
  {
    name: 'units: 2/32 in is not 1.6 mm',
    published: 1.6,
    tolerance: 0.001,
    wrong: true,
    unit: 'mm',
    source: 'rounded tread limit',
    ours: () => to(2, '1/32in', 'mm'),
  },
  {
    name: 'units: 155 °C',
    published: 311,
    unit: '°F',
    source: '49 CFR 571.116, DOT 4 wet: 155 °C (311 °F) (secondary)',
    ours: () => to(155, '°C', '°F'),
  },
  {
    name: 'units: 5 °C of difference',
    published: 9,
    unit: '°F',
    source: 'definition',
    ours: () => convertDifference(5, '°C', '°F') ?? Number.NaN,
  },
  {
    name: 'units: 5 °C of difference as if it were a temperature',
    published: 41,
    tolerance: 1,
    wrong: true,
    unit: '°F',
    source: 'definition',
    ours: () => convertDifference(5, '°C', '°F') ?? Number.NaN,
  },
  {
    name: 'W38 1953-08-02 by day of the year',
    published: '1953-214',
    source: ISO_8601,
    ours: () => ordinal('1953-08-02'),
  },
  { name: 'W38 1953-08-02 by week', published: '1953-W31-7', source: ISO_8601, ours: () => weekDate('1953-08-02') },
  { name: 'ISO weeks: 2014-12-29', published: '2015-W01-1', source: ISO_WEEKS, ours: () => weekDate('2014-12-29') },
  { name: 'ISO weeks: 2019-12-30', published: '2020-W01-1', source: ISO_WEEKS, ours: () => weekDate('2019-12-30') },
  { name: 'ISO weeks: 2006-12-31', published: '2006-W52-7', source: ISO_WEEKS, ours: () => weekDate('2006-12-31') },
  { name: 'ISO weeks: 2012-12-31', published: '2013-W01-1', source: ISO_WEEKS, ours: () => weekDate('2012-12-31') },
];
