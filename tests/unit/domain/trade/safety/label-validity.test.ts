import fc from 'fast-check';
import { DateTime } from 'luxon';
import { describe, expect, it } from 'vitest';
import { CATALOGUE } from '../../../../../src/domain/catalogue/catalogue.ts';
import { NotComputable } from '../../../../../src/domain/trade/calculation.ts';
import { LABEL_VALIDITY } from '../../../../../src/domain/trade/safety/label-validity-calculation.ts';
import { MONTH_READINGS, parseLabelDate } from '../../../../../src/domain/trade/safety/label-validity-terms.ts';
import {
  LABEL_RULES,
  type LabelId,
  type LabelRule,
} from '../../../../../src/domain/trade/safety/label-validity-rules.ts';
import {
  earliestLastDay,
  labelLastDay,
  NO_END_DATE,
  secondsToBurn,
  validThrough,
} from '../../../../../src/domain/trade/safety/label-validity.ts';

const LABELS = Object.keys(LABEL_RULES) as LabelId[];
const ruleOf = (label: LabelId): LabelRule => LABEL_RULES[label];
const arbLabel = fc.constantFrom(...LABELS);
const arbDay = fc
  .date({ min: new Date('1995-01-01'), max: new Date('2040-12-31'), noInvalidDate: true })
  .map((date) => date.toISOString().slice(0, 10));
const faultsOf = (run: () => unknown) => {
  try {
    run();
  } catch (error) {
    if (error instanceof NotComputable) return error.faults.map(({ pointer, code }) => `${pointer} ${code}`);
    throw error;
  }
  return [];
};
const compute = (input: unknown) => LABEL_VALIDITY.compute(LABEL_VALIDITY.input.parse(input));

describe('parseLabelDate', () => {
  it.each([
    ['2019', '2019-01-01', '2019-12-31'],
    ['2024-02', '2024-02-01', '2024-02-29'],
    ['2023-02', '2023-02-01', '2023-02-28'],
    ['2019-12', '2019-12-01', '2019-12-31'],
    ['2019-06-15', '2019-06-15', '2019-06-15'],
  ])('reads %s', (text, first, last) => {
    expect(parseLabelDate(text)).toEqual({ first, last });
  });

  it.each(['2/4/95', '06/2019', '19', '2019-13', '2019-02-30', '2019-6', '', 'June 2019', '9999', '0019-05'])(
    'refuses %j',
    (text) => {
      expect(parseLabelDate(text)).toBeUndefined();
    },
  );

  it('ends a month where luxon, an independent calendar, ends it', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1950, max: 2099 }), fc.integer({ min: 1, max: 12 }), (year, month) => {
        const expected = DateTime.utc(year, month).endOf('month').toISODate();
        expect(parseLabelDate(`${year}-${String(month).padStart(2, '0')}`)?.last).toBe(expected);
      }),
    );
  });
});

describe('validThrough', () => {
  it('reads a punched month on its first day unless told otherwise', () => {
    const ends = MONTH_READINGS.map((monthReading) =>
      labelLastDay('SFI 38.1', { madeOn: '2008-04' }, { monthReading }),
    );
    expect(ends).toEqual(['2013-04-01', '2013-04-30', '2013-12-31']);
    expect(labelLastDay('SFI 38.1', { madeOn: '2008-04' })).toBe('2013-04-01');
  });

  it('lets the earliest of printed and computed end decide, and names it', () => {
    const validity = validThrough(ruleOf('FIA 8853/98'), { madeOn: '2015', notValidAfter: '2018' });
    expect(validity).toMatchObject({
      ends: 'on',
      lastDay: '2018-12-31',
      decidedBy: { numbers: 'not valid after 2018-12-31' },
    });
  });

  it('clamps a fuel cell made on a leap day', () => {
    expect(labelLastDay('FIA FT5', { madeOn: '2024-02-29' })).toBe('2029-02-28');
    expect(labelLastDay('FIA FT3-1999', { madeOn: '2017-02-28', recertifiedOn: ['2022'] })).toBe('2024-02-28');
  });

  it('starts again from the newest recertification, in whatever order they are given', () => {
    const dates = { madeOn: '2016-03', recertifiedOn: ['2020-05', '2018-04'] };
    expect(labelLastDay('SFI 16.5', dates)).toBe('2022-05-01');
  });

  it('does not take an acceptance list for a date that is missing', () => {
    expect(validThrough(ruleOf('FIA 8853/98'), {}, { acceptance: 'international' })).toMatchObject({
      ends: 'unknown',
      missing: 'madeOn',
    });
    expect(validThrough(ruleOf('FIA 8853-2016'), { madeOn: '2020' })).toMatchObject({
      ends: 'unknown',
      missing: 'notValidAfter',
    });
    expect(validThrough(ruleOf('Snell M2020'), { madeOn: '2021-01' })).toMatchObject({ ends: 'unknown' });
  });

  it('gives the advice to replace a helmet beside its limit', () => {
    const validity = validThrough(ruleOf('Snell SA2020'), { madeOn: '2021-05' });
    expect(validity).toMatchObject({ ends: 'on', lastDay: '2030-12-31', advice: { lastDay: '2026-05-01' } });
  });

  it('takes other years only where sources disagree or the number is from memory', () => {
    expect(labelLastDay('FIA 8862-2009', { madeOn: '2012' }, { years: 9 })).toBe('2021-12-31');
    expect(labelLastDay('FIA 8862-2009', { madeOn: '2012' })).toBe('2022-12-31');
    expect(labelLastDay('FIA 8855-1999', { madeOn: '2014' }, { years: 9 })).toBe('2019-12-31');
  });

  it.each([
    [{ madeOn: '2/4/95' }, ['/madeOn not-a-date']],
    [{ madeOn: '2015', notValidAfter: '2014' }, ['/notValidAfter before-made']],
    [
      { madeOn: '2015', recertifiedOn: ['2017', '2014-12', 'x'] },
      ['/recertifiedOn/1 before-made', '/recertifiedOn/2 not-a-date'],
    ],
  ])('refuses %j', (dates, expected) => {
    expect(faultsOf(() => validThrough(ruleOf('SFI 16.1'), dates))).toEqual(expected);
    expect(labelLastDay('SFI 16.1', dates)).toBeUndefined();
  });

  it('refuses a recertification where the label knows none', () => {
    const dates = { madeOn: '2015', recertifiedOn: ['2017'] };
    expect(faultsOf(() => validThrough(ruleOf('FIA 8853/98'), dates))).toEqual(['/recertifiedOn no-recertification']);
  });

  it('never ends earlier for a label made later, nor later for one more date to obey', () => {
    fc.assert(
      fc.property(arbLabel, arbDay, arbDay, arbDay, (label, a, b, printed) => {
        const [early, late] = a < b ? [a, b] : [b, a];
        const before = labelLastDay(label, { madeOn: early });
        const after = labelLastDay(label, { madeOn: late });
        if (before !== undefined && after !== undefined) expect(before <= after).toBe(true);
        const both = labelLastDay(label, { madeOn: early, notValidAfter: printed });
        if (before !== undefined && both !== undefined) expect(both <= before).toBe(true);
      }),
    );
  });

  it('knows nothing of a label it does not know', () => {
    expect(labelLastDay('other', { madeOn: '2020', notValidAfter: '2030' })).toBeUndefined();
    expect(labelLastDay('toString', { madeOn: '2020' })).toBeUndefined();
  });

  it('has no end for what has none', () => {
    expect(labelLastDay('FIA 8858-2010', {})).toBe(NO_END_DATE);
    expect(labelLastDay('factory', {})).toBe(NO_END_DATE);
  });
});

describe('LABEL_RULES', () => {
  const answers = ['harness.standard', 'helmet.standard', 'seat.standard', 'head-restraint.standard'];
  // no rule of ours computes an end for these: road belts, a withdrawn head restraint, and what is not known
  const without = ['other', 'none', 'no-label', 'unknown', 'ECE R16', 'FIA 8858-2002'];

  it.each(answers)('has a rule for every standard of %s', (key) => {
    const item = CATALOGUE.find((each) => each.key === key);
    const options = item?.answer.kind === 'choice' ? item.answer.options : [];
    expect(options.length).toBeGreaterThan(3);
    expect(options.filter((option) => !without.includes(option) && !Object.hasOwn(LABEL_RULES, option))).toEqual([]);
  });

  it('names a source for every term', () => {
    for (const label of LABELS) {
      for (const term of ruleOf(label).terms) expect([label, term.source.length > 0]).toEqual([label, true]);
    }
  });
});

describe('earliestLastDay', () => {
  it('takes the earliest, and knows nothing when one is not known', () => {
    expect(earliestLastDay(['2020-12-31', '2019-12-31', '2021-01-01'])).toBe('2019-12-31');
    expect(earliestLastDay(['2020-12-31', undefined])).toBeUndefined();
    expect(earliestLastDay([])).toBeUndefined();
  });
});

describe('label-validity', () => {
  it('lets the earliest strap govern', () => {
    const { result, steps } = compute(LABEL_VALIDITY.example);
    expect(result).toMatchObject({ lastDay: '2025-12-31', governing: 1 });
    expect(result.labels.map(({ lastDay, valid, daysLeft }) => [lastDay, valid, daysLeft])).toEqual([
      ['2026-12-31', true, 564],
      ['2025-12-31', true, 199],
    ]);
    expect(steps).toHaveLength(2);
  });

  it('is good on the last day and not on the next', () => {
    const at = (onDay: string) =>
      compute({ labels: [{ label: 'FIA 8853-2016', notValidAfter: '2025' }], onDay }).result;
    expect(at('2025-12-31').labels[0]).toMatchObject({ valid: true, daysLeft: 0 });
    expect(at('2026-01-01').labels[0]).toMatchObject({ valid: false, daysLeft: -1 });
  });

  it('names every fault with its place', () => {
    const labels = [
      { label: 'FIA 8853-2016', madeOn: '2020' },
      { label: 'FIA 8855-1999', madeOn: '2014', years: 9 },
      { label: 'FIA FT3-1999', madeOn: '2027-01' },
    ];
    expect(faultsOf(() => compute({ labels, onDay: '2026-06-14' }))).toEqual([
      '/labels/0/notValidAfter missing',
      '/labels/1/years fixed',
      '/labels/2/madeOn in-future',
    ]);
  });

  it('says what it assumed, and that nine or ten years are counted', () => {
    const { assumptions, cautions } = compute({ labels: [{ label: 'FIA 8862-2009', madeOn: '2012' }] });
    expect(assumptions.map(({ name }) => name)).toEqual(['Punched month', 'Acceptance']);
    expect(cautions.join(' ')).toContain('nine or ten');
  });

  it('refuses slash dates before computing', () => {
    const labels = [{ label: 'SFI 16.1', madeOn: '2/4/95' }];
    expect(LABEL_VALIDITY.input.safeParse({ labels }).error?.issues[0]?.path).toEqual(['labels', 0, 'madeOn']);
  });
});

describe('secondsToBurn', () => {
  it('refuses a rating of nothing', () => {
    expect(faultsOf(() => secondsToBurn(0))).toEqual(['/thermalProtectivePerformance not-positive']);
  });
});
