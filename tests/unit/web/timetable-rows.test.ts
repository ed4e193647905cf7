import { describe, expect, test } from 'vitest';
import { laterBy, toRows, toSessions, withNext } from '../../../src/web/office/event/timetable.tsx';

/** Central European summer time is two hours before UTC (IANA tz, Europe/Berlin). */
const ZONE = 'Europe/Berlin';
const at = (time: string) => `2026-06-13T${time}:00.000Z`;
const TABLE = [
  { name: 'Sat 1', startsAt: at('07:00'), endsAt: at('07:20') },
  { name: 'Sat 2', startsAt: at('08:10'), endsAt: at('08:35') },
];

describe('the rows of a timetable', () => {
  test('show the clock of the venue, and send what they were made of', () => {
    const rows = toRows(TABLE, ZONE);
    expect(rows[1]).toEqual({ id: 1, name: 'Sat 2', startsAt: '2026-06-13T10:10', minutes: '25' });
    expect(toSessions(rows, ZONE)).toEqual(TABLE);
  });

  test('send what is no length or no time for the server to refuse', () => {
    const [row] = toRows(TABLE, ZONE);
    if (row === undefined) throw new Error('no row');
    expect(toSessions([{ ...row, minutes: 'x' }], ZONE)).toEqual([{ ...TABLE[0], endsAt: at('07:00') }]);
    expect(toSessions([{ ...row, startsAt: '' }], ZONE)).toEqual([{ name: 'Sat 1', startsAt: '', endsAt: '' }]);
    expect(toSessions([{ ...row, minutes: '22,5' }], ZONE)[0]?.endsAt).toBe('2026-06-13T07:22:30.000Z');
  });

  test('go on as they began', () => {
    const first = withNext([], at('07:00'), ZONE);
    expect(first).toEqual([{ id: 0, name: '1', startsAt: '2026-06-13T09:00', minutes: '20' }]);
    expect(withNext(first, at('07:00'), ZONE)[1]).toMatchObject({ startsAt: '2026-06-13T10:00', minutes: '20' });
    expect(withNext(toRows(TABLE, ZONE), at('07:00'), ZONE)[2]).toEqual({
      id: 2,
      name: '3',
      startsAt: '2026-06-13T11:20',
      minutes: '25',
    });
  });

  test('move later what has not begun', () => {
    const moved = laterBy(toRows(TABLE, ZONE), 15, { now: Date.parse(at('07:10')), timeZone: ZONE });
    expect(moved.map(({ startsAt }) => startsAt)).toEqual(['2026-06-13T09:00', '2026-06-13T10:25']);
    expect(laterBy(moved, Number('x'), { now: 0, timeZone: ZONE })).toEqual(moved);
  });
});
