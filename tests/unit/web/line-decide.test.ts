import { describe, expect, test } from 'vitest';
import { COMMON, dueFor, timesFor, usualDue } from '../../../src/web/line/state/condition-due.ts';
import { dueAt } from '../../../src/web/line/state/rejection.ts';
import { numberAfter } from '../../../src/web/line/state/station.ts';

/** Central European summer time is two hours before UTC (IANA tz, Europe/Berlin). */
const EVENT = { timeZone: 'Europe/Berlin', startsOn: '2026-06-13' };
const at = (time: string) => Date.parse(`2026-06-13T${time}:00.000Z`);
const times = (now: number, firstSessionAt?: string) => timesFor({ firstSessionAt, sessions: [], event: EVENT, now });

describe('by when a condition is done', () => {
  // Common practice, no source: one turn of three groups is an hour.
  test('the coming session, the one after it, and the end of the day at the venue', () => {
    expect(times(at('06:30'), '2026-06-13T07:20:00.000Z')).toEqual({
      'first-session': '2026-06-13T07:20:00.000Z',
      'session-after': '2026-06-13T08:20:00.000Z',
      'end-of-day': '2026-06-13T21:59:00.000Z',
    });
    // At its first session, and later: the coming one is that of the next turn.
    expect(times(at('07:20'), '2026-06-13T07:20:00.000Z')['first-session']).toBe('2026-06-13T08:20:00.000Z');
    expect(times(at('10:00'), '2026-06-13T07:20:00.000Z')['session-after']).toBe('2026-06-13T11:20:00.000Z');
  });

  test('never after the end of the day; on an evening before the event, of its first day', () => {
    expect(times(at('21:30'), '2026-06-13T07:20:00.000Z')['session-after']).toBe('2026-06-13T21:59:00.000Z');
    const before = Date.parse('2026-06-12T18:00:00.000Z');
    expect(times(before, '2026-06-13T07:20:00.000Z')['end-of-day']).toBe('2026-06-13T21:59:00.000Z');
  });

  test('every common condition gets a time, so that the gate holds by itself; none only when chosen', () => {
    const known = times(at('06:30'), '2026-06-13T07:20:00.000Z');
    for (const kind of COMMON) {
      const instant = usualDue(kind, known, false).at ?? '';
      expect(Date.parse(instant), kind).toBeGreaterThan(at('06:30'));
    }
    expect(usualDue('torque', known, false)).toEqual({ due: 'session-after', at: '2026-06-13T08:20:00.000Z' });
    expect(usualDue('tape', known, false)).toEqual({ due: 'first-session', at: '2026-06-13T07:20:00.000Z' });
    expect(usualDue('paper', known, false)).toEqual({ due: 'end-of-day', at: '2026-06-13T21:59:00.000Z' });
    expect(dueFor('none', known)).toEqual({ due: 'none', at: undefined });
    // Not known is asked for: it does not become "none".
    expect(usualDue('torque', times(at('06:30')), false)).toEqual({ due: 'time', at: undefined });
  });

  test('the instant is that of the choosing', () => {
    const chosen = {
      id: '1',
      text: 'tape',
      ...usualDue('tape', times(at('06:30'), '2026-06-13T07:20:00.000Z'), false),
    };
    expect(dueAt(chosen, '2026-06-13T09:00:00.000Z')).toBe('2026-06-13T07:20:00.000Z');
  });
});

test('a roll counts up in its last digits; prefix, what follows, and zeros in front stay', () => {
  const after = ['118', '007', '099', 'A-0118', '2026-9', '12-B', '9'].map(numberAfter);
  expect(after).toEqual(['119', '008', '100', 'A-0119', '2026-10', '13-B', '10']);
  expect(numberAfter('A-')).toBeUndefined();
  // Longer than a sticker number may be.
  expect(numberAfter('999999999999')).toBeUndefined();
});
