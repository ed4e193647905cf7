import fc from 'fast-check';
import { DateTime } from 'luxon';
import { describe, expect, it } from 'vitest';
import { addDays } from '../../../../../src/domain/calendar.ts';
import { NotComputable } from '../../../../../src/domain/trade/calculation.ts';
import { SERVICE_DUE } from '../../../../../src/domain/trade/line/service-due-calculation.ts';
import {
  remainingAt,
  remainingOn,
  SERVICE_KINDS,
  serviceDue,
  serviceLastDay,
} from '../../../../../src/domain/trade/line/service-due.ts';

const WEST = 'Etc/GMT+8'; // UTC−8: the sign of these names is turned round
const EAST = 'Pacific/Tongatapu'; // UTC+13
const compute = (input: unknown) => SERVICE_DUE.compute(SERVICE_DUE.input.parse(input));
const faultsOf = (run: () => unknown) => {
  try {
    run();
  } catch (error) {
    if (error instanceof NotComputable) return error.faults.map(({ pointer, code }) => `${pointer} ${code}`);
    throw error;
  }
  return [];
};
const arbDay = fc
  .date({ min: new Date('1995-01-01'), max: new Date('2090-12-31'), noInvalidDate: true })
  .map((date) => date.toISOString().slice(0, 10));
const arbKind = fc.constantFrom(...SERVICE_KINDS);

describe('serviceDue', () => {
  it('counts dampers by their use: yearly in professional use, 24 advised and 36 due in club use', () => {
    expect(serviceDue({ kind: 'damper', doneOn: '2024-01-20', damperUse: 'professional' })).toMatchObject({
      lastDay: '2025-01-20',
      advisedUntil: null,
    });
    expect(serviceDue({ kind: 'damper', doneOn: '2024-01-20', damperUse: 'club' })).toMatchObject({
      lastDay: '2027-01-20',
      advisedUntil: '2026-01-20',
    });
    expect(serviceDue({ kind: 'damper', doneOn: '2024-01-20' }).lastDay).toBe('2025-01-20');
  });

  it('agrees with luxon, an independent calendar, on months added to any day', () => {
    fc.assert(
      fc.property(arbKind, arbDay, fc.integer({ min: 1, max: 120 }), (kind, doneOn, everyMonths) => {
        const expected = DateTime.fromISO(doneOn, { zone: 'utc' }).plus({ months: everyMonths }).toISODate();
        expect(serviceDue({ kind, doneOn, everyMonths }).lastDay).toBe(expected);
      }),
    );
  });

  it('is never due later for a shorter interval or one more rule', () => {
    const arbMonths = fc.integer({ min: 1, max: 60 });
    fc.assert(
      fc.property(arbKind, arbDay, arbMonths, arbMonths, (kind, doneOn, everyMonths, makerMonths) => {
        const alone = serviceDue({ kind, doneOn, everyMonths }).lastDay;
        const both = serviceDue({ kind, doneOn, everyMonths, makerMonths });
        expect(both.lastDay <= alone).toBe(true);
        expect(both.terms.map(({ lastDay }) => lastDay)).toContain(both.lastDay);
        expect(serviceDue({ kind, doneOn, everyMonths: everyMonths + 1 }).lastDay >= alone).toBe(true);
      }),
    );
  });

  it('handles leap days and ends of months and years', () => {
    const brake = (doneOn: string) => serviceDue({ kind: 'brake-fluid', doneOn }).lastDay;
    expect(['2023-08-31', '2024-08-29', '2025-07-31', '2025-12-31'].map(brake)).toEqual([
      '2024-02-29',
      '2025-02-28',
      '2026-01-31',
      '2026-06-30',
    ]);
    expect(serviceDue({ kind: 'coolant', doneOn: '2024-02-29' }).lastDay).toBe('2026-02-28');
  });

  it.each([
    [{ doneOn: '2/4/95' }, '/doneOn not-a-date'],
    [{ doneOn: '2026-02-30' }, '/doneOn not-a-date'],
    [{ doneOn: '9999-12-31' }, '/doneOn not-a-date'],
    [{ doneOn: '0001-01-01' }, '/doneOn not-a-date'],
    [{ doneOn: '2026-02-03', everyMonths: 0 }, '/everyMonths not-months'],
    [{ doneOn: '2026-02-03', everyMonths: 1.5 }, '/everyMonths not-months'],
    [{ doneOn: '2026-02-03', makerMonths: -12 }, '/makerMonths not-months'],
    [{ doneOn: '2026-02-03', disposableMadeOn: '2019' }, '/disposableMadeOn not-a-date'],
  ])('refuses %j', (service, expected) => {
    expect(faultsOf(() => serviceDue({ kind: 'extinguisher', ...service }))).toEqual([expected]);
  });

  it('gives facts no day for a date that is none', () => {
    expect(serviceLastDay('coolant', '2/4/95')).toBeUndefined();
    expect(serviceLastDay('coolant', '2025-01-01')).toBe('2027-01-01');
  });
});

describe('remainingOn', () => {
  it('counts down to 0 on the last good day', () => {
    const left = ['2026-06-13', '2026-06-14', '2026-06-15'].map((day) => remainingOn(day, '2026-06-14'));
    expect(left.map(({ daysLeft }) => daysLeft)).toEqual([1, 0, -1]);
    expect(left.map(({ overdue }) => overdue)).toEqual([false, false, true]);
  });

  it('goes down by one a day, over clock changes too', () => {
    fc.assert(
      fc.property(arbDay, arbDay, (day, lastDay) => {
        expect(remainingOn(addDays(day, 1), lastDay).daysLeft).toBe(remainingOn(day, lastDay).daysLeft - 1);
      }),
    );
  });
});

describe('zones', () => {
  // one instant: still 14 June in the evening at UTC−8, already 15 June in the evening at UTC+13
  const instant = new Date('2026-06-15T05:00:00Z');

  it('is overdue in one place and not in the other at the same instant', () => {
    expect(remainingAt(instant, WEST, '2026-06-14')).toEqual({ daysLeft: 0, overdue: false });
    expect(remainingAt(instant, EAST, '2026-06-14')).toEqual({ daysLeft: -1, overdue: true });
  });

  it('counts a service done at an instant from the day at the venue', () => {
    const at = (timeZone: string) =>
      compute({
        onDay: '2026-06-14',
        timeZone,
        services: [{ kind: 'engine-oil', doneOn: '2026-03-01T02:00:00Z' }],
      }).result.items[0]?.lastDay;
    expect([at(WEST), at(EAST)]).toEqual(['2027-02-28', '2027-03-01']);
  });

  it('agrees with luxon on the civil date of any instant', () => {
    const arbInstant = fc.date({ min: new Date('2000-01-01'), max: new Date('2030-12-31'), noInvalidDate: true });
    fc.assert(
      fc.property(arbInstant, fc.constantFrom(WEST, EAST, 'Europe/Paris', 'UTC'), (at, timeZone) => {
        const day = DateTime.fromJSDate(at, { zone: timeZone }).toISODate() ?? '';
        expect(remainingAt(at, timeZone, day).daysLeft).toBe(0);
      }),
    );
  });

  it('refuses an instant without a zone', () => {
    const services = [{ kind: 'engine-oil', doneOn: '2026-03-01' }];
    expect(faultsOf(() => compute({ onDay: '2026-06-14T05:00:00Z', services }))).toEqual(['/timeZone missing']);
  });
});

describe('service-due', () => {
  it('works its example: the earliest rule decides, the earliest item is next', () => {
    const { result, cautions } = compute(SERVICE_DUE.example);
    expect(result.items.map(({ what, lastDay, overdue }) => [what, lastDay, overdue])).toEqual([
      ['brake-fluid', '2026-09-01', false],
      ['damper', '2027-01-20', false],
      ['extinguisher', '2026-02-10', true],
      ['fuel-cell', '2027-05-02', false],
    ]);
    expect(result.next).toBe(2);
    expect(result.items[2]?.decidedBy.rule).toContain('maker');
    expect(cautions.join(' ')).toContain('FT3');
  });

  it('finds what is due first wherever it stands, and skips what has no end', () => {
    const labels = [{ label: 'FIA 8858-2010' }, { label: 'FIA 8853-2016', notValidAfter: '2027' }];
    const services = [{ kind: 'coolant', doneOn: '2026-01-01' }];
    expect(compute({ onDay: '2026-06-14', services, labels }).result.next).toBe(2);
    expect(compute({ onDay: '2026-06-14', labels: labels.slice(0, 1) }).result).toMatchObject({
      next: null,
      items: [{ lastDay: null, daysLeft: null, overdue: false }],
    });
  });

  it('names every fault with its place', () => {
    const input = {
      onDay: '2026-06-14',
      services: [
        { kind: 'coolant', doneOn: '2026-06-15' },
        { kind: 'coolant', doneOn: '2026-01-01', damperUse: 'club' },
        { kind: 'extinguisher', doneOn: '2020-01-01', disposableMadeOn: '2021-01-01' },
      ],
    };
    expect(faultsOf(() => compute(input))).toEqual([
      '/services/0/doneOn in-future',
      '/services/1/damperUse stray',
      '/services/2/disposableMadeOn after-service',
    ]);
    const labels = [{ label: 'FIA 8853-2016' }, { label: 'SFI 16.1', madeOn: '2026-07' }];
    expect(faultsOf(() => compute({ onDay: '2026-06-14', labels }))).toEqual([
      '/labels/0/notValidAfter missing',
      '/labels/1/madeOn in-future',
    ]);
    expect(faultsOf(() => compute({ onDay: '2026-06-14' }))).toEqual([' empty']);
  });

  it.each([
    [{ onDay: '14/06/2026' }, ['onDay']],
    [{ onDay: '2026-06-14T05:00' }, ['onDay']],
    [{ onDay: '2026-06-14', timeZone: '+05:00' }, ['timeZone']],
    [{ onDay: '2026-06-14', services: [{ kind: 'coolant', doneOn: '2/4/95' }] }, ['services', 0, 'doneOn']],
  ])('does not read %j', (input, path) => {
    expect(SERVICE_DUE.input.safeParse(input).error?.issues[0]?.path).toEqual(path);
  });

  it('labels its defaults as common practice', () => {
    const { assumptions } = compute({ onDay: '2026-06-14', services: [{ kind: 'damper', doneOn: '2026-01-01' }] });
    expect(assumptions).toMatchObject([
      { name: 'damper', standing: 'common-practice' },
      { name: 'Damper use', value: 'professional' },
    ]);
  });
});
