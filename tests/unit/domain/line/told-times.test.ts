import { describe, expect, test } from 'vitest';
import { learnMinutes } from '../../../../src/domain/line/minutes-per-car.ts';
import { dueOf, shiftFaults, shiftsFrom, usualShifts } from '../../../../src/domain/line/line-hours.ts';
import {
  type CarInLine,
  fitIn,
  giveLanes,
  NOTICE,
  type ToldTime,
  WORTH_TELLING,
} from '../../../../src/domain/line/told-times.ts';
import { openRandom } from '../../../../src/domain/foresight/random.ts';

const open = (inspectors: number, from = 0, to = 300) => [{ from, to, inspectors }];
const car = (id: string, told: ToldTime | undefined, over: Partial<CarInLine> = {}): CarInLine => {
  return { id, dueAt: 300, minutes: 10, told, ...over };
};

describe('lanes', () => {
  test('are given as they come free; with one person there is none to name', () => {
    const times = ['a', 'b', 'c', 'd'].map((id, at) => ({ id, at: 5 * at }));
    const minutes = new Map([
      ['a', 30],
      ['b', 10],
      ['c', 10],
      ['d', 10],
    ]);
    // a takes lane 1 until 30; b and then, from 15 and 25 on, c and d lane 2
    expect(giveLanes(times, minutes, open(2)).map(({ told }) => told.lane)).toEqual([1, 2, 2, 2]);
    expect(giveLanes(times, minutes, open(1))[0]?.told).toEqual({ at: 0 });
    // the second person comes at 12, and is then busy with b and c until 32
    const shifts = [
      { from: 0, to: 12, inspectors: 1 },
      { from: 12, to: 300, inspectors: 2 },
    ];
    expect(giveLanes(times, minutes, shifts).map(({ told }) => told.lane)).toEqual([
      undefined,
      undefined,
      undefined,
      1,
    ]);
  });
});

describe('while the line works', () => {
  test('a time stands while the wait is the usual one', () => {
    const cars = [car('a', { at: 100 }), car('b', { at: 101 }), car('c', { at: 110 })];
    expect(fitIn(cars, open(1), 60)).toEqual({ changes: [], late: [] });
  });

  test('who would wait twenty minutes or more is told later, unless he is on his way', () => {
    const cars = [car('now', undefined, { since: 58, minutes: 40 }), car('way', { at: 70 }), car('home', { at: 85 })];
    // the lane is taken until 98, then by the car that is on its way until 108; ten minutes of wait stay
    expect(fitIn(cars, open(1), 60).changes).toEqual([{ id: 'home', told: { at: 98 } }]);
  });

  test('a car that is not there holds nobody up', () => {
    const cars = [car('gone', { at: 50 }, { isMissing: true, minutes: 60 }), car('next', { at: 80 })];
    expect(fitIn(cars, open(1), 62)).toEqual({ changes: [], late: [] });
  });

  test('who would miss his session is called earlier where others are not there', () => {
    const cars = [car('late', { at: 110 }, { dueAt: 115 }), car('gone', { at: 80 }, { isMissing: true })];
    expect(fitIn(cars, open(1), 60)).toEqual({ changes: [{ id: 'late', told: { at: 60 + NOTICE } }], late: [] });
    // not where that is worth too little: from 80 it would be done at 120
    const near = [car('late', { at: 84 }, { dueAt: 92 })];
    expect(fitIn(near, open(1), 60)).toEqual({ changes: [], late: ['late'] });
  });

  test('who has no time gets the first gap, or a turn just before his session where there is none', () => {
    const told = Array.from({ length: 20 }, (_, at) => car(`t${at}`, { at: 10 * at }));
    const fits = fitIn([...told, car('new', undefined, { dueAt: 230 })], open(1), 0);
    expect(fits.changes).toEqual([{ id: 'new', told: { at: 200 } }]);
    const squeezed = fitIn([...told, car('new', undefined, { dueAt: 100 })], open(1), 0);
    // ten minutes of inspection and five to spare before 100; the others wait, and keep their times
    expect(squeezed.changes).toEqual([{ id: 'new', told: { at: 85 } }]);
    expect(fitIn([car('new', undefined, { dueAt: 5 })], open(1), 0).late).toEqual(['new']);
    expect(fitIn([car('new', undefined)], open(1, 0, 300), 299)).toEqual({ changes: [], late: ['new'] });
  });

  test('whatever the morning: nobody on his way is moved, and no move is smaller than what is worth telling', () => {
    for (let seed = 1; seed <= 300; seed += 1) {
      const random = openRandom(seed);
      const now = random.below(120);
      const cars = Array.from({ length: 3 + random.below(20) }, (_, at): CarInLine => {
        const isTold = random.uniform() < 0.8;
        return {
          id: String(at),
          dueAt: 60 + random.below(240),
          minutes: 4 + random.below(15),
          told: isTold ? { at: random.below(200) } : undefined,
          since: random.uniform() < 0.1 ? now - random.below(20) : undefined,
          isMissing: random.uniform() < 0.1,
        };
      });
      const { changes, late } = fitIn(cars, open(1 + random.below(3)), now);
      const known = new Map(cars.map((one) => [one.id, one]));
      for (const { id, told } of changes) {
        const before = known.get(id)?.told?.at;
        expect(told.at).toBeGreaterThanOrEqual(now + NOTICE);
        if (before === undefined) continue;
        expect(before).toBeGreaterThanOrEqual(now + NOTICE);
        expect(Math.abs(told.at - before)).toBeGreaterThanOrEqual(WORTH_TELLING);
      }
      expect(new Set(changes.map(({ id }) => id)).size).toBe(changes.length);
      for (const id of late) expect(known.get(id)?.isMissing).toBe(false);
      // what has been done about is not done again
      const again = cars.map((one) => ({ ...one, told: changes.find(({ id }) => id === one.id)?.told ?? one.told }));
      const moved = fitIn(again, open(3), now).changes.filter(({ id }) => known.get(id)?.told === undefined);
      expect(moved.every(({ id }) => again.find((one) => one.id === id)?.told !== undefined || late.includes(id))).toBe(
        true,
      );
    }
  });
});

describe('minutes per car', () => {
  test('are the usual ones while nothing was measured', () => {
    const { minutesFor, measured } = learnMinutes([]);
    // 6 minutes and 0.7 for each point; from memory
    expect([measured, minutesFor({ points: 0, group: 'x' }), minutesFor({ points: 10, group: 'x' })]).toEqual([
      0, 6, 13,
    ]);
  });

  test('follow what was measured; worked by hand for one car', () => {
    // n = 7, x = 4, xx = 76, y = 20 + 36 = 56, xy = 80 + 42 = 122: b = (7·122 − 4·56) / (7·76 − 16) = 630 / 516, a = (56 − 4 b) / 7
    const { minutesFor } = learnMinutes([{ minutes: 20, points: 4, group: 'Novice' }]);
    const b = 630 / 516;
    const a = (56 - 4 * b) / 7;
    expect(minutesFor({ points: 2, group: 'other' })).toBeCloseTo(a + 2 * b, 9);
    // the group itself: its one car was over by the rest, a seventh of which counts
    expect(minutesFor({ points: 2, group: ' novice ' })).toBeCloseTo(a + 2 * b + (20 - a - 4 * b) / 7, 9);
  });

  test('what was signed within a minute of the claim was typed in afterwards, and says nothing', () => {
    expect(learnMinutes([{ minutes: 0.3, points: 2, group: 'a' }]).measured).toBe(0);
  });

  test('come near a generated truth, and a forgotten claim does not spoil them', () => {
    const random = openRandom(77);
    const cars = Array.from({ length: 400 }, (_, at) => {
      const points = random.below(12);
      const group = at % 2 === 0 ? 'slow' : 'fast';
      const mean = 5 + points + (group === 'slow' ? 3 : 0);
      return { points, group, minutes: at === 7 ? 900 : (mean * random.gamma(4)) / 4 };
    });
    const { minutesFor } = learnMinutes(cars);
    expect(Math.abs(minutesFor({ points: 6, group: 'slow' }) - 14)).toBeLessThan(1.2);
    expect(Math.abs(minutesFor({ points: 6, group: 'fast' }) - 11)).toBeLessThan(1.2);
    expect(minutesFor({ points: 0, group: 'slow' }) - minutesFor({ points: 0, group: 'fast' })).toBeGreaterThan(1.5);
  });
});

describe('hours of the line', () => {
  test('are usual ones by the day at the venue, and are held against each other', () => {
    const firsts = ['2026-06-13T07:00:00Z', '2026-06-13T08:00:00Z', '2026-06-14T07:30:00Z'].map((at) => new Date(at));
    expect(usualShifts(firsts, 'Europe/Berlin')).toEqual([
      { from: '2026-06-13T05:00:00.000Z', to: '2026-06-13T08:00:00.000Z', inspectors: 2 },
      { from: '2026-06-14T05:30:00.000Z', to: '2026-06-14T07:30:00.000Z', inspectors: 2 },
    ]);
    expect(usualShifts([], 'UTC')).toEqual([]);
    const bad = [
      { from: '2026-06-13T05:00:00Z', to: '2026-06-13T05:00:00Z', inspectors: 1 },
      { from: '2026-06-13T04:00:00Z', to: '2026-06-13T06:00:00Z', inspectors: 1 },
    ];
    expect(shiftFaults(bad).map(({ at, field }) => [at, field])).toEqual([
      [0, 'to'],
      [1, 'from'],
    ]);
  });

  test('what is over is left out; a car is due before its next session', () => {
    const now = new Date('2026-06-13T07:10:00Z');
    const at = (text: string) => Date.parse(text) / 60_000;
    const shifts = shiftsFrom(
      [
        { from: '2026-06-13T05:00:00Z', to: '2026-06-13T07:00:00Z', inspectors: 3 },
        { from: '2026-06-13T07:00:00Z', to: '2026-06-13T09:00:00Z', inspectors: 2 },
      ],
      now,
    );
    expect(shifts).toEqual([{ from: at('2026-06-13T07:10:00Z'), to: at('2026-06-13T09:00:00Z'), inspectors: 2 }]);
    const sessions = [
      { name: '1', startsAt: '2026-06-13T07:00:00Z', endsAt: '2026-06-13T07:20:00Z' },
      { name: '2', startsAt: '2026-06-13T08:40:00Z', endsAt: '2026-06-13T09:00:00Z' },
    ];
    const firstSessionAt = new Date('2026-06-13T07:00:00Z');
    expect(dueOf({ firstSessionAt, sessions }, shifts, now)).toBe(at('2026-06-13T08:40:00Z'));
    expect(dueOf({ firstSessionAt, sessions: [] }, shifts, now)).toBe(at('2026-06-13T09:00:00Z'));
  });
});
