import { describe, expect, test } from 'vitest';
import {
  dueOfKind,
  knownTimes,
  movedConditions,
  torqueRecheckTimes,
  withMoved,
} from '../../../../src/domain/log/condition-due.ts';
import {
  inOrder,
  movedStart,
  type Session,
  timetableFaults,
  withFirstAt,
} from '../../../../src/domain/log/timetable.ts';

/** Saturday and Sunday, two sessions each, 20 minutes; Central European summer time is UTC + 2 (IANA tz, Europe/Berlin). */
const at = (day: string, time: string) => `2026-06-${day}T${time}:00.000Z`;
const session = (name: string, day: string, from: string, to: string): Session => ({
  name,
  startsAt: at(day, from),
  endsAt: at(day, to),
});
const TABLE = [
  session('Sat 1', '13', '07:00', '07:20'),
  session('Sat 2', '13', '08:00', '08:20'),
  session('Sun 1', '14', '07:00', '07:20'),
  session('Sun 2', '14', '08:00', '08:20'),
];
const DAYS = { startsOn: '2026-06-13', endsOn: '2026-06-14', timeZone: 'Europe/Berlin' };
const faults = (sessions: Session[]) =>
  timetableFaults(sessions, DAYS).map(({ pointer, code }) => `${pointer} ${code}`);

describe('a timetable', () => {
  test('is in order of time, whatever the order in which it was sent', () => {
    expect(faults(TABLE)).toEqual([]);
    expect(inOrder(TABLE.toReversed())).toEqual(TABLE);
  });

  test('names what cannot be, at its place', () => {
    expect(faults([...TABLE, session('sat 1 ', '13', '09:00', '09:20')])).toEqual(['/sessions/4/name name-twice']);
    expect(faults([session('A', '13', '09:20', '09:00')])).toEqual(['/sessions/0/endsAt ends-first']);
    expect(faults([session('A', '13', '09:00', '09:00')])).toEqual(['/sessions/0/endsAt ends-first']);
    expect(faults([session('A', '12', '21:00', '21:20')])).toEqual([
      '/sessions/0/startsAt outside-event',
      '/sessions/0/endsAt outside-event',
    ]);
    // Midnight at the venue is 22:00 UTC: it may end with the day, not after it.
    expect(faults([session('A', '14', '21:40', '22:00')])).toEqual([]);
    expect(faults([session('A', '14', '21:40', '22:01')])).toEqual(['/sessions/0/endsAt outside-event']);
    expect(faults([session('A', '13', '09:00', '09:20'), session('B', '13', '09:19', '09:40')])).toEqual([
      '/sessions/1/startsAt overlaps',
    ]);
    expect(faults([session('A', '13', '09:00', '09:20'), session('B', '13', '09:20', '09:40')])).toEqual([]);
  });

  test('goes with its first session, as long as the next one is not run into', () => {
    const first = (time: string) => withFirstAt(TABLE, new Date(at('13', time)))?.[0];
    expect(first('07:30')).toEqual(session('Sat 1', '13', '07:30', '07:50'));
    expect(first('07:40')).toEqual(session('Sat 1', '13', '07:40', '08:00'));
    expect(first('07:41')).toBeUndefined();
    expect(withFirstAt([], new Date())).toEqual([]);
  });

  test('moves a start with the session of that name, or to the next one when it is gone', () => {
    const late = TABLE.map((one) => (one.name === 'Sat 2' ? session('SAT 2', '13', '09:00', '09:20') : one));
    expect(movedStart(at('13', '08:00'), { from: TABLE, to: late })).toBe(at('13', '09:00'));
    expect(movedStart(at('13', '08:00'), { from: TABLE, to: TABLE.toSpliced(1, 1) })).toBe(at('14', '07:00'));
    expect(movedStart(at('14', '08:00'), { from: TABLE, to: TABLE.slice(0, 3) })).toBeUndefined();
    expect(movedStart(at('13', '08:20'), { from: TABLE, to: late })).toBeUndefined();
  });
});

describe('the re-check of the torque with a timetable', () => {
  const times = (now: string, sessions = TABLE, endsOn = '2026-06-14') => {
    const days = { firstSessionAt: new Date(at('13', '07:00')), sessions, timeZone: 'Europe/Berlin', endsOn };
    const { from, dueAt } = torqueRecheckTimes(days, new Date(now));
    return [from.toISOString(), dueAt?.toISOString()];
  };

  test('counts from the end of the session that can be driven, and is due when the group goes out again', () => {
    expect(times(at('12', '16:00'))).toEqual([at('13', '07:20'), at('13', '08:00')]);
    expect(times(at('13', '06:59'))).toEqual([at('13', '07:20'), at('13', '08:00')]);
    // Accepted while it runs: it may be joined.
    expect(times(at('13', '07:10'))).toEqual([at('13', '07:20'), at('13', '08:00')]);
    expect(times(at('13', '07:20'))).toEqual([at('13', '08:20'), at('14', '07:00')]);
    expect(times(at('13', '18:00'))).toEqual([at('14', '07:20'), at('14', '08:00')]);
  });

  test('has no due time where the group does not go out again', () => {
    expect(times(at('14', '07:30'))).toEqual([at('14', '08:20'), undefined]);
  });

  test('takes days that are not in the timetable to begin as the first one did', () => {
    const saturday = TABLE.slice(0, 2);
    expect(times(at('13', '07:30'), saturday)).toEqual([at('13', '08:20'), at('14', '07:00')]);
    expect(times(at('13', '18:00'), saturday)).toEqual([at('14', '07:00'), undefined]);
    expect(times(at('13', '18:00'), saturday, '2026-06-15')).toEqual([at('14', '07:00'), at('15', '07:00')]);
  });
});

describe('due times by kind', () => {
  const endOfDay = at('13', '21:59');
  const about = { sessions: TABLE, firstSessionAt: at('13', '07:00'), endOfDay };
  const known = (now: string, sessions = TABLE) => knownTimes({ ...about, sessions, now: Date.parse(now) });

  test('are those of the timetable', () => {
    expect(known(at('13', '06:00'))).toEqual({
      'first-session': at('13', '07:00'),
      'session-after': at('13', '08:00'),
      'end-of-day': endOfDay,
    });
    // While a session runs the car may join it; what must be right before a session is due at the next one.
    expect(known(at('13', '07:10'))).toMatchObject({
      'first-session': at('13', '08:00'),
      'session-after': at('13', '08:00'),
    });
    expect(known(at('13', '08:30'))['session-after']).toBe(at('14', '08:00'));
  });

  test('are the end of the day where the group does not go out again, and asked for where nothing is known', () => {
    const last = known(at('14', '07:40'));
    expect(last['session-after']).toBeUndefined();
    expect(dueOfKind('torque', last, true)).toBe('end-of-day');
    expect(dueOfKind('tape', last, true)).toBe('first-session');
    expect(dueOfKind('torque', { 'end-of-day': endOfDay }, false)).toBeUndefined();
  });
});

describe('open conditions under another timetable', () => {
  const LATE = TABLE.map((one) => (one.name === 'Sat 2' ? session('Sat 2', '13', '09:00', '09:20') : one));
  const recheck = { from: new Date(at('13', '07:20')), dueAt: new Date(at('13', '09:00')) };
  const tables = { from: TABLE, to: LATE };
  const ofRules = {
    id: 'r',
    text: 'torque',
    dueAt: at('13', '08:00'),
    recheck: { of: 'torque', from: at('13', '07:20'), byTimetable: true },
  } as const;

  test('go with their session; a time of one’s own and "no time" stay', () => {
    const conditions = [
      ofRules,
      { id: 't', text: 'tape', dueAt: at('13', '08:00') },
      { id: 'o', text: 'own time', dueAt: at('13', '12:00') },
      { id: 'n', text: 'none' },
    ];
    const moved = movedConditions(conditions, tables, recheck);
    expect(moved).toEqual([
      { id: 'r', dueAt: at('13', '09:00'), from: at('13', '07:20') },
      { id: 't', dueAt: at('13', '09:00') },
    ]);
    expect(withMoved(conditions, moved)).toEqual([
      { ...ofRules, dueAt: at('13', '09:00') },
      { id: 't', text: 'tape', dueAt: at('13', '09:00') },
      ...conditions.slice(2),
    ]);
    expect(movedConditions(withMoved(conditions, moved), { from: LATE, to: LATE }, recheck)).toEqual([]);
  });

  test('lose the due time that the timetable no longer has, and nothing else does', () => {
    const none = { from: new Date(at('13', '07:20')), dueAt: undefined };
    const [moved] = movedConditions([ofRules], { from: TABLE, to: TABLE.slice(0, 1) }, none);
    expect(moved).toEqual({ id: 'r', from: at('13', '07:20') });
    expect(withMoved([ofRules], moved === undefined ? [] : [moved])).toEqual([
      { id: 'r', text: 'torque', recheck: ofRules.recheck },
    ]);
    const tape = { id: 't', text: 'tape', dueAt: at('13', '08:00') };
    expect(movedConditions([tape], { from: TABLE, to: TABLE.slice(0, 1) }, none)).toEqual([]);
  });

  test('a torque with a time of the inspector’s counts from the session that is driven now', () => {
    const own = { ...ofRules, recheck: { of: 'torque', from: at('13', '07:20') } as const, dueAt: at('13', '12:00') };
    const later = { from: new Date(at('13', '07:50')), dueAt: new Date(at('13', '09:00')) };
    expect(movedConditions([own], tables, later)).toEqual([
      { id: 'r', dueAt: at('13', '12:00'), from: at('13', '07:50') },
    ]);
  });
});
