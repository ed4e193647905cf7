import { describe, expect, test } from 'vitest';
import { findItem } from '../../../../src/domain/catalogue/catalogue.ts';
import { sameTimeOn } from '../../../../src/domain/calendar.ts';
import { parseAnswers } from '../../../../src/domain/declaration/declaration.ts';
import {
  holdKindOf,
  holdReasonOf,
  LOG_ITEMS,
  LOG_KINDS,
  type LogContent,
  logFaults,
  stopSymptoms,
  SYMPTOM_NAMES,
  torqueUnsettled,
} from '../../../../src/domain/log/session-log.ts';
import { torqueRecheckTimes } from '../../../../src/domain/log/condition-due.ts';

const cellsOf = (raw: Record<string, unknown>) => {
  const parsed = parseAnswers(raw);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.answers;
};
const faults = (content: Partial<LogContent> & Pick<LogContent, 'kind'>) =>
  logFaults({ cells: new Map(), ...content }).map(({ pointer, code }) => `${pointer} ${code}`);
const CAR = { description: 'x', body: 'closed', powertrain: 'combustion' } as const;

describe('an entry of the log', () => {
  test('takes items of the catalogue, and symptoms that its question knows', () => {
    for (const key of LOG_KINDS.flatMap((kind) => LOG_ITEMS[kind])) expect(findItem(key), key).toBeDefined();
    const known = findItem('debrief.symptoms')?.answer as { options?: readonly string[] };
    expect([...SYMPTOM_NAMES].sort()).toEqual([...(known.options ?? [])].sort());
  });

  test('needs what its kind is about', () => {
    expect(LOG_KINDS.map((kind) => faults({ kind }))).toEqual([
      ['/values missing'],
      ['/values missing'],
      ['/values missing'],
      ['/values missing'],
      ['/laps missing'],
      ['/temperatures missing'],
      ['/symptoms missing'],
      ['/note missing'],
    ]);
    expect(faults({ kind: 'laps', laps: 0 })).toEqual([]);
    expect(faults({ kind: 'note', note: 'Changed the line' })).toEqual([]);
  });

  test('names what belongs to another kind, and drops nothing', () => {
    const pads = cellsOf({ 'pad.thickness': { 'FL.in': 8 } });
    expect(faults({ kind: 'pads', cells: pads, note: 'warm' })).toEqual([]);
    expect(faults({ kind: 'tread', cells: pads })).toEqual(['/values/pad.thickness not-of-this-kind']);
    expect(faults({ kind: 'note', note: 'x', cells: pads, laps: 3, wheelsCooled: true })).toEqual([
      '/values not-of-this-kind',
      '/laps not-of-this-kind',
      '/wheelsCooled not-of-this-kind',
    ]);
  });

  // Common practice, no source: the table of symptoms says with which nobody drives on.
  test('stops a car for some symptoms, and the hold says what must be looked at', () => {
    expect(stopSymptoms(['vibration', 'smell-of-fuel'])).toEqual(['smell-of-fuel']);
    expect(stopSymptoms(['pushes-wide'])).toEqual([]);
    expect(holdKindOf(['long-pedal-after-laps', 'smell-of-fuel'])).toBe('leak');
    expect(holdKindOf(['smell-of-burning'])).toBe('smoke');
    expect(holdKindOf(['pulls-under-braking'])).toBe('other');
    expect(holdReasonOf(['smell-of-fuel', 'temperature-rising'])).toBe(
      'After a session: smell of fuel, temperature rising',
    );
  });
});

describe('a torque', () => {
  const asked = { of: 'torque', from: '2026-06-13T07:00:00.000Z' } as const;
  const at = new Date('2026-06-13T08:00:00.000Z');
  const setting = (value: unknown) => cellsOf({ 'wheel.torque-setting': value });
  const settles = (over: Partial<Parameters<typeof torqueUnsettled>[0]> = {}, car: object = {}) =>
    torqueUnsettled({ cells: setting(110), at, wheelsCooled: true, ...over }, asked, { ...CAR, ...car });

  test('settles the re-check after the session, cooled, for all wheels', () => {
    expect(settles()).toBeUndefined();
    expect(settles({ at: new Date(asked.from) })).toBeUndefined();
    expect(settles({ at: new Date('2026-06-13T06:59:59.999Z') })).toContain('after the session');
    expect(settles({ wheelsCooled: false })).toContain('cooled');
    expect(settles({ cells: cellsOf({ 'wheel.torque': { FL: 110, FR: 110, RL: 110 } }) })).toContain('all four wheels');
    expect(settles({ cells: cellsOf({ 'wheel.torque': { FL: 110, FR: 110, RL: 110, RR: 110 } }) })).toBeUndefined();
  });

  // Common practice, no source: a tenth of the maker's torque where he names no tolerance.
  test('settles it at the maker’s value only, in whatever unit', () => {
    const car = { wheelNutTorqueNm: 110 };
    expect(settles({}, car)).toBeUndefined();
    expect(settles({ cells: setting(99) }, car)).toBeUndefined();
    expect(settles({ cells: setting(98) }, car)).toBe('The maker asks for 110 N·m, give or take 11.');
    expect(settles({ cells: setting(113) }, { ...car, wheelNutTorqueToleranceNm: 2 })).toContain('give or take 2');
    // NIST Special Publication 811, appendix B: 1 lbf·ft is 1.355818 N·m, so 81 are 110.
    expect(settles({ cells: setting({ value: 81, unit: 'lbf·ft' }) }, car)).toBeUndefined();
  });
});

describe('the re-check after the first session, without a timetable', () => {
  const times = (now: string, endsOn = '2026-06-14') => {
    const days = { firstSessionAt: new Date('2026-06-13T07:20:00Z'), sessions: [], timeZone: 'Europe/Berlin', endsOn };
    const { from, dueAt } = torqueRecheckTimes(days, new Date(now));
    return [from.toISOString(), dueAt?.toISOString()];
  };

  test('counts from the first session on, and is due when the group goes out on the next day', () => {
    expect(times('2026-06-12T16:00:00Z')).toEqual(['2026-06-13T07:20:00.000Z', '2026-06-14T07:20:00.000Z']);
    expect(times('2026-06-13T06:00:00Z')).toEqual(['2026-06-13T07:20:00.000Z', '2026-06-14T07:20:00.000Z']);
    // Accepted after the group went out: it counts from then on.
    expect(times('2026-06-13T10:00:00Z')).toEqual(['2026-06-13T10:00:00.000Z', '2026-06-14T07:20:00.000Z']);
  });

  test('has no due time where no day follows', () => {
    expect(times('2026-06-13T06:00:00Z', '2026-06-13')).toEqual(['2026-06-13T07:20:00.000Z', undefined]);
    expect(times('2026-06-14T06:00:00Z')).toEqual(['2026-06-14T07:20:00.000Z', undefined]);
  });

  test('is due at the time that clocks show, over a change of the clock', () => {
    // IANA time zone database: clocks in Berlin go forward on 29 March 2026.
    expect(sameTimeOn(new Date('2026-03-28T08:00:00Z'), '2026-03-29', 'Europe/Berlin').toISOString()).toBe(
      '2026-03-29T07:00:00.000Z',
    );
  });
});
