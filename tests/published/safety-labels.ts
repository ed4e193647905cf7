import { addDays, plainDateAt } from '../../src/domain/calendar.ts';
import type { LabelOptions } from '../../src/domain/trade/safety/label-validity-terms.ts';
import {
  earliestLastDay,
  harnessLastDays,
  type LabelDates,
  labelLastDay,
  secondsToBurn,
} from '../../src/domain/trade/safety/label-validity.ts';
import { remainingOn, serviceDue } from '../../src/domain/trade/line/service-due.ts';
import type { PublishedCheck } from './published-check.ts';

const last = (label: string, dates: LabelDates, options?: LabelOptions) => () =>
  labelLastDay(label, dates, options) ?? 'not known';
const month = (day: string): string => day.slice(0, 7);

const HARNESS_GUIDE = 'FIA 8853/98 as explained by a harness guide, secondary source';
const SEAT_PAGE = 'FIA 8855-1999 as explained by a national series page, secondary source';
const SFI_TABLE = 'SFI 38.1 expiry table, secondary source';
const CELL = 'FIA FT3-1999 in a historic club page, secondary source; the date is arithmetic';
const SFI_WEBBING = 'SFI presentation: why recertify every 2 years, read';
const LIST_25 = 'FIA Technical List 25 of 2024-12-11, secondary source';
const EXTINGUISHER =
  'UK national rules from 2018-01-01: maker’s interval or 24 months, whichever is sooner; secondary source';
const WORDING = 'wording "not valid after": valid on the day, not on the next; derived';
const PRINTED_YEAR = 'FIA labels: good to 31 December of the label year, secondary source';

/** the last day by the reading that is later, or earlier, of a strap on 2026-06-14 */
const strap =
  (standard: string, date: string, reading: 'earliest' | 'latest', shows?: 'made-on' | 'not-valid-after') => () =>
    harnessLastDays({ standard, date, shows, onDay: '2026-06-14' })?.[reading] ?? 'not known';

const HARNESS: readonly PublishedCheck[] = [
  {
    name: 'harness SFI 16.1 made in May 2025, entered by its month',
    published: '2027-05-01',
    ours: strap('SFI 16.1', '2025-05-01', 'earliest', 'made-on'),
    source: SFI_WEBBING,
  },
  {
    name: 'harness SFI 16.1 made in May 2025, read as its last day',
    published: '2025-05-01',
    wrong: true,
    ours: strap('SFI 16.1', '2025-05-01', 'latest', 'made-on'),
    source: SFI_WEBBING,
  },
  {
    name: 'harness SFI 16.1, label from 2015 on: not valid after',
    published: '2025-05-31',
    ours: strap('SFI 16.1', '2025-05-31', 'latest', 'not-valid-after'),
    source: 'SFI labels from 2015: not valid after, secondary source',
  },
  {
    name: 'harness FIA 8853/98 with the last day on its label, nobody says which date it is',
    published: '2025-12-31',
    ours: strap('FIA 8853/98', '2025-12-31', 'latest'),
    source: PRINTED_YEAR,
  },
  {
    name: 'W32 harness FIA 8853/98 made in January 2015',
    published: '2020-12-31',
    ours: last('FIA 8853/98', { madeOn: '2015-01' }),
    source: HARNESS_GUIDE,
  },
  {
    name: 'W32 harness FIA 8853/98 with label year 2020',
    published: '2020-12-31',
    ours: last('FIA 8853/98', { notValidAfter: '2020' }),
    source: PRINTED_YEAR,
  },
  {
    name: 'harness FIA 8853/98: five years from the day of manufacture',
    published: '2020-01-01',
    wrong: true,
    ours: last('FIA 8853/98', { madeOn: '2015-01' }),
    source: `${HARNESS_GUIDE}: counted from 1 January after the year of manufacture`,
  },
  {
    name: 'harness FIA 8853/98 on the international list',
    published: '2022-12-31',
    ours: last('FIA 8853/98', { madeOn: '2021' }, { acceptance: 'international' }),
    source: 'notice of a historic racing club: FIA 8853-2016 needed from 2023-01-01, secondary source',
  },
  {
    name: 'harness FIA 8853-2016 computed from its manufacture',
    published: '2030-12-31',
    wrong: true,
    ours: last('FIA 8853-2016', { madeOn: '2020' }),
    source: 'no page confirms ten years: the label is read, never computed',
  },
  {
    name: 'harness SFI 16.1 punched 2013-05, useful life two years',
    published: '2015-05',
    ours: () => month(last('SFI 16.1', { madeOn: '2013-05' })()),
    source: SFI_WEBBING,
  },
  {
    name: 'harness SFI 16.6 as a five-year standard',
    published: '2018-05',
    wrong: true,
    ours: () => month(last('SFI 16.6', { madeOn: '2013-05' })()),
    source: `${SFI_WEBBING}: 16.6 is among the two-year standards`,
  },
  {
    name: 'harness SFI 16.1 by the club rule of 2002: 31 December of the second year',
    published: '2004-12-31',
    ours: last('SFI 16.1', { madeOn: '2002-05' }, { monthReading: 'end-of-year' }),
    source: 'US club rule of 2002, secondary source',
  },
  {
    name: 'harness set with straps of 2020 and 2019',
    published: '2019-12-31',
    ours: () =>
      earliestLastDay(['2020', '2019'].map((year) => labelLastDay('FIA 8853/98', { notValidAfter: year }))) ?? 'none',
    source: 'each strap has its own label (harness guide, secondary source); the earliest governs, derived',
  },
];

const SEATS_AND_CELLS: readonly PublishedCheck[] = [
  ...['2014-01', '2014-08'].map((madeOn) => ({
    name: `W33 seat FIA 8855-1999 made ${madeOn}`,
    published: '2019-12-31',
    ours: last('FIA 8855-1999', { madeOn }),
    source: SEAT_PAGE,
  })),
  {
    name: 'W36 fuel cell FT3 made 2019-03-10',
    published: '2024-03-10',
    ours: last('FIA FT3-1999', { madeOn: '2019-03-10' }),
    source: CELL,
  },
  {
    name: 'W36 fuel cell FT3 recertified: two more years',
    published: '2026-03-10',
    ours: last('FIA FT3-1999', { madeOn: '2019-03-10', recertifiedOn: ['2024-02-20'] }),
    source: CELL,
  },
  {
    name: 'W36 fuel cell FT3 recertified twice: no further extension',
    published: '2026-03-10',
    ours: last('FIA FT3-1999', { madeOn: '2019-03-10', recertifiedOn: ['2024-02-20', '2026-02-20'] }),
    source: CELL,
  },
  {
    name: 'fuel cell FT5 extended by two years',
    published: '2026-03-10',
    wrong: true,
    ours: last('FIA FT5', { madeOn: '2019-03-10', recertifiedOn: ['2024-02-20'] }),
    source: 'FIA FT5 in a single-seater rule of the 2000s: five years, no extension; secondary source',
  },
];

const HELMETS: readonly PublishedCheck[] = [
  ...[2008, 2009, 2010, 2011].map((year) => ({
    name: `W34 head restraint SFI 38.1 punched ${year}-04`,
    published: `${year + 5}-04`,
    ours: () => month(last('SFI 38.1', { madeOn: `${year}-04` })()),
    source: SFI_TABLE,
  })),
  {
    name: 'head restraint SFI 38.1 recertified 2013-04: five more years',
    published: '2018-04',
    ours: () => month(last('SFI 38.1', { madeOn: '2008-04', recertifiedOn: ['2013-04'] })()),
    source: 'letter of the SFI foundation, secondary source',
  },
  ...(['Snell SA2010', 'Snell SA2015'] as const).map((label) => ({
    name: `helmet ${label} on the international list`,
    published: '2023-12-31',
    ours: last(label, {}, { acceptance: 'international' }),
    source: LIST_25,
  })),
  {
    name: 'helmet FIA 8860-2010 on the international list',
    published: '2028-12-31',
    ours: last('FIA 8860-2010', {}, { acceptance: 'international' }),
    source: LIST_25,
  },
  ...(['FIA 8859-2015', 'FIA 8859-2024', 'FIA 8860-2018', 'FIA 8860-2018-ABP'] as const).map((label) => ({
    name: `helmet ${label}: no end date at present`,
    published: '9999-12-31',
    ours: last(label, {}, { acceptance: 'international' }),
    source: LIST_25,
  })),
  {
    name: 'helmet Snell SA2015 by the ten-year club rule',
    published: '2025-12-31',
    ours: last('Snell SA2015', {}, { acceptance: 'club' }),
    source: 'club practice: ten years from the year of the standard; secondary source',
  },
  {
    name: 'W40 suit SFI 3.2A/5, TPP 19',
    published: 10,
    tolerance: 0.5,
    unit: 's',
    ours: () => secondsToBurn(19),
    source: 'SFI 3.2A: TPP divided by 2, labelled 10 s; rule from a secondary source',
  },
];

const serviced = '2024-02-10';
const SERVICES: readonly PublishedCheck[] = [
  {
    name: 'W35 extinguisher, 24 months and maker’s 12: the sooner',
    published: '2025-02-10',
    ours: () => serviceDue({ kind: 'extinguisher', doneOn: serviced, makerMonths: 12 }).lastDay,
    source: EXTINGUISHER,
  },
  {
    name: 'W35 extinguisher: the maker’s interval is named as the rule that decides',
    published: "the maker's interval of 12 months",
    ours: () => serviceDue({ kind: 'extinguisher', doneOn: serviced, makerMonths: 12 }).decidedBy.says,
    source: EXTINGUISHER,
  },
  {
    name: 'W35 extinguisher, maker’s 36 months: 24 decide',
    published: '2026-02-10',
    ours: () => serviceDue({ kind: 'extinguisher', doneOn: serviced, makerMonths: 36 }).lastDay,
    source: EXTINGUISHER,
  },
  {
    name: 'extinguisher that cannot be refilled: discarded after 12 years',
    published: '2024-06-01',
    ours: () => serviceDue({ kind: 'extinguisher', doneOn: '2024-02-10', disposableMadeOn: '2012-06-01' }).lastDay,
    source: 'NFPA 10, secondary source',
  },
  ...[
    { name: 'on the day', day: '2020-12-31', overdue: 'valid' },
    { name: 'on the next day', day: addDays('2020-12-31', 1), overdue: 'overdue' },
  ].map(({ name, day, overdue }) => ({
    name: `not valid after 2020: ${name}`,
    published: overdue,
    ours: () => {
      const end = labelLastDay('FIA 8853-2016', { notValidAfter: '2020' });
      return end === undefined || remainingOn(day, end).overdue ? 'overdue' : 'valid';
    },
    source: WORDING,
  })),
  {
    name: '31 August and six months of brake fluid: clamped to 28 February',
    published: '2025-02-28',
    ours: () => serviceDue({ kind: 'brake-fluid', doneOn: '2024-08-31' }).lastDay,
    source: 'month addition clamps to the end of the month, definition',
  },
  ...[
    { zone: 'Etc/GMT+8', day: '2026-02-28' },
    { zone: 'Pacific/Tongatapu', day: '2026-03-01' },
  ].map(({ zone, day }) => ({
    name: `the civil date at 2026-03-01T02:00Z in ${zone}`,
    published: day,
    ours: () => plainDateAt(new Date('2026-03-01T02:00:00Z'), zone),
    source: 'expiry is a civil date at the venue; UTC−8 and UTC+13 by definition',
  })),
];

/** Validity of helmets, harnesses, seats, fuel cells, extinguishers. */
export const CHECKS: readonly PublishedCheck[] = [...HARNESS, ...SEATS_AND_CELLS, ...HELMETS, ...SERVICES];
