import { describe, expect, it } from 'vitest';
import type { EarlierEvent } from '../../../../src/domain/facts/fact.ts';
import { wearReadings } from '../../../../src/domain/facts/wear.ts';
import { loggedReadings } from '../../../../src/domain/log/logged-wear.ts';

const SAT = '2026-06-13';
const SUN = '2026-06-14';
const about = { from: SAT, endsOn: SUN, timeZone: 'Europe/Berlin', sessions: [] };
const session = (name: string, day: string, hour: number) => ({
  name,
  startsAt: `${day}T${String(hour).padStart(2, '0')}:00:00.000Z`,
  endsAt: `${day}T${String(hour).padStart(2, '0')}:20:00.000Z`,
});
const sessions = [session('1', SAT, 7), session('2', SAT, 12), session('3', SUN, 7), session('4', SUN, 12)];
const pads = (at: string, mm: number, more = {}) => ({ at, cells: { 'pad.thickness@front': mm }, ...more });
const driven = (...args: Parameters<typeof loggedReadings>) => loggedReadings(...args).map((one) => one.driven);

describe('how much of an event was driven at a reading', () => {
  // common practice, no source: a session is a session; two days with two sessions each
  it('is told by the sessions that are over', () => {
    const log = [pads(`${SAT}T07:30:00.000Z`, 9), pads(`${SAT}T13:00:00.000Z`, 8.6), pads(`${SUN}T18:00:00.000Z`, 7.8)];
    expect(driven(log, { ...about, sessions })).toEqual([0.5, 1, 2]);
  });

  it('is told by the laps where each session has some', () => {
    const laps = (at: string, count: number) => ({ at, laps: count });
    const all = [
      laps(`${SAT}T07:25:00.000Z`, 10),
      laps(`${SAT}T12:25:00.000Z`, 10),
      laps(`${SUN}T07:25:00.000Z`, 10),
      laps(`${SUN}T12:25:00.000Z`, 10),
    ];
    const read = pads(`${SAT}T07:30:00.000Z`, 9);
    expect(driven([...all, read], { ...about, sessions })).toEqual([0.5]);
    const cut = all.map((one, at) => (at === 0 ? { ...one, laps: 30 } : one));
    expect(driven([...cut, read], { ...about, sessions })).toEqual([1]);
    // one session without a count: nobody knows the share
    expect(driven([...cut.slice(0, 3), read], { ...about, sessions })).toEqual([0.5]);
  });

  it('is half of its day where no session is known: never more than was driven', () => {
    expect(driven([pads(`${SAT}T18:00:00.000Z`, 9), pads(`${SUN}T18:00:00.000Z`, 8)], about)).toEqual([0.5, 1.5]);
  });

  it('keeps the lowest of each tyre, and nothing of an entry without such a value', () => {
    const cells = { 'tyre.tread@FL.inner': 4.1, 'tyre.tread@FL.middle': 4.6, 'tyre.tread-lowest@RR': 3.9 };
    const [read, ...others] = loggedReadings(
      [
        { at: `${SAT}T18:00:00.000Z`, cells },
        { at: `${SAT}T19:00:00.000Z`, laps: 9 },
      ],
      about,
    );
    expect(read?.treadMm).toEqual({ FL: 4.1, RR: 3.9 });
    expect(others).toEqual([]);
  });
});

describe('the readings of a pad', () => {
  const part = { position: 'FL.in', measured: (of: Pick<EarlierEvent, 'padThicknessMm'>) => of.padThicknessMm.front };
  const event = (logged: EarlierEvent['logged']): EarlierEvent => ({
    startsOn: SAT,
    endsOn: SUN,
    daysBefore: 0,
    daysAfter: 2,
    padThicknessMm: { front: 9 },
    logged,
  });
  const read = (at: number, mm: number, more = {}) => ({
    on: SAT,
    driven: at,
    padThicknessMm: { front: mm },
    treadMm: {},
    ...more,
  });
  const readings = (logged: EarlierEvent['logged'], now: number) =>
    wearReadings([event(logged)], part, { thicknessMm: now, on: '2026-07-04' }).map(
      ({ thicknessMm, sessions, padsChanged }) => [thicknessMm, sessions, ...(padsChanged === true ? ['new'] : [])],
    );

  it('have those between sessions in their place', () => {
    expect(readings([read(0.5, 8.6), read(1.5, 7.8)], 7.4)).toEqual([
      [9, 0],
      [8.6, 0.5],
      [7.8, 1.5],
      [7.4, 2],
    ]);
  });

  it('begin anew where the log says that new ones were fitted, and only at that axle', () => {
    expect(readings([read(1, 8.8, { renewed: ['front'] })], 8)).toEqual([
      [9, 0],
      [8.8, 1, 'new'],
      [8, 2],
    ]);
    expect(readings([read(1, 8.8, { renewed: ['rear'] })], 8)).toEqual([
      [9, 0],
      [8.8, 1],
      [8, 2],
    ]);
    expect(readings([read(1, 12)], 11)).toEqual([
      [9, 0],
      [12, 1, 'new'],
      [11, 2],
    ]);
  });

  it('do not grow by what two gauges differ, and no forecast is lost by that', () => {
    expect(readings([read(1, 7.9)], 8.3)).toEqual([
      [9, 0],
      [7.9, 1],
      [7.9, 2],
    ]);
  });
});
