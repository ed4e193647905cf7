import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CLEARANCE_STATUSES, type ClearanceFacts, NOTHING_YET } from '../../../../src/domain/clearance/clearance.ts';
import { decideClearance } from '../../../../src/domain/clearance/decide-clearance.ts';
import {
  ASSUMED_MINUTES_PER_CAR,
  countStatuses,
  type EntryState,
  forecastLine,
  isExpectedAtLine,
  isUndeclared,
  openConditions,
  serviceTime,
} from '../../../../src/domain/line/readiness.ts';
import { alone } from '../../../support/clearance-histories.ts';

const NOW = new Date('2026-06-13T06:00:00.000Z');
const DECLARED = { inspectionId: 'i', revision: 1, verdict: 'clean', bars: [] } as const;
const accepted = (validUntil: string): ClearanceFacts => ({
  ...NOTHING_YET,
  declared: DECLARED,
  signOff: { signOffId: 's', decision: 'accept', validFrom: '2026-06-13T05:00:00.000Z', validUntil },
});
const HELD = { ...NOTHING_YET, declared: DECLARED, holds: [{ holdId: 'h', reason: 'leak' }] };
const BARRED = { ...NOTHING_YET, declared: { ...DECLARED, bars: [{ ruleId: 'r', title: 'R' }] } };
const REFUSED: ClearanceFacts = {
  ...NOTHING_YET,
  declared: DECLARED,
  signOff: { signOffId: 's', decision: 'refuse', note: 'n' },
};
const KINDS: readonly ClearanceFacts[] = [
  NOTHING_YET,
  { ...NOTHING_YET, withdrawn: true },
  { ...NOTHING_YET, declared: DECLARED },
  accepted('2026-06-14T20:00:00.000Z'),
  accepted('2026-06-13T06:00:00.000Z'),
  HELD,
  BARRED,
  REFUSED,
];
const entry = (facts: ClearanceFacts, more: Partial<EntryState> = {}): EntryState => ({
  entryId: 'e',
  carNumber: '1',
  runGroupId: 'a',
  facts,
  state: alone(facts),
  onLine: false,
  ...more,
});

describe('counts', () => {
  test('each entry once: statuses add up to groups, groups to the event', () => {
    const anEntry = fc
      .record({ facts: fc.constantFrom(...KINDS), runGroupId: fc.constantFrom('a', 'b', 'c') })
      .map(({ facts, runGroupId }) => entry(facts, { runGroupId }));
    fc.assert(
      fc.property(fc.array(anEntry, { maxLength: 60 }), (entries) => {
        const counted = countStatuses(entries, ['a', 'b', 'c', 'empty'], NOW);
        const sum = (statuses: Record<string, number>) => Object.values(statuses).reduce((a, b) => a + b, 0);
        expect(counted.total).toBe(entries.length);
        expect(sum(counted.statuses)).toBe(entries.length);
        let groups = 0;
        for (const group of counted.groups.values()) {
          expect(sum(group.statuses)).toBe(group.total);
          groups += group.total;
        }
        expect(groups).toBe(entries.length);
        expect(counted.groups.get('empty')?.total).toBe(0);
        for (const status of CLEARANCE_STATUSES) {
          const byGate = entries.filter(({ facts }) => decideClearance(alone(facts), NOW).status === status).length;
          expect(counted.statuses[status]).toBe(byGate);
        }
      }),
    );
  });
});

describe('who must come to the line', () => {
  test.each([
    ['not declared', NOTHING_YET, true],
    ['withdrawn', { ...NOTHING_YET, withdrawn: true }, false],
    ['declared and barred, so without a ticket', BARRED, true],
    ['accepted', accepted('2026-06-14T20:00:00.000Z'), false],
    ['accepted until this instant: ends are exclusive', accepted('2026-06-13T06:00:00.000Z'), true],
    ['refused', REFUSED, true],
    ['held before any sign-off', HELD, true],
    ['held after an acceptance', { ...accepted('2026-06-14T20:00:00.000Z'), holds: HELD.holds }, false],
  ] as const)('%s', (_what, facts, expected) => {
    expect(isExpectedAtLine(entry(facts), NOW)).toBe(expected);
    expect(isExpectedAtLine(entry(facts, { onLine: true }), NOW)).toBe(false);
  });

  test('a held or withdrawn entry without a declaration: the first has not declared, the second need not', () => {
    expect(isUndeclared({ ...NOTHING_YET, holds: HELD.holds })).toBe(true);
    expect(isUndeclared({ ...NOTHING_YET, withdrawn: true })).toBe(false);
    expect(isUndeclared(BARRED)).toBe(false);
  });
});

test('conditions stand by due time, those without one last; the due instant is past due', () => {
  const conditions = [
    { id: '1', text: 'whenever' },
    { id: '2', text: 'later', dueAt: '2026-06-13T09:00:00.000Z' },
    { id: '3', text: 'now', dueAt: '2026-06-13T06:00:00.000Z' },
  ];
  const facts = { ...accepted('2026-06-14T20:00:00.000Z'), conditions };
  const open = openConditions([entry(facts), entry({ ...facts, withdrawn: true })], NOW);
  expect(open.map(({ id, pastDue }) => [id, pastDue])).toEqual([
    ['3', true],
    ['2', false],
    ['1', false],
  ]);
});

describe('the time for one car', () => {
  test('is assumed while few were measured, and says so', () => {
    expect(serviceTime([30, 30, 30, 30])).toEqual({
      minutes: ASSUMED_MINUTES_PER_CAR,
      from: 'assumption',
      measured: 4,
    });
  });
  test('is the mean of what was measured', () => {
    expect(serviceTime([4, 6, 8, 10, 12])).toEqual({ minutes: 8, from: 'measured', measured: 5 });
    // what was only written down, seconds after the car was taken, is nobody's pace
    expect(serviceTime([0.01, 4, 0.2, 6, 8, 10, 12])).toEqual({ minutes: 8, from: 'measured', measured: 5 });
    expect(serviceTime([0.01, 0.02, 0, 0.1, 0.3, 0.99])).toMatchObject({ from: 'assumption', measured: 0 });
  });
});

describe('the forecast', () => {
  const group = (runGroupId: string, minutesToFirstSession: number, waiting: number, expected = 0) => ({
    runGroupId,
    minutesToFirstSession,
    waiting,
    expected,
  });

  /** Works the line through car by car: the next car goes to whoever is free first. An oracle of its own. */
  function simulate(cars: number, inspectors: number, minutes: number): number {
    const free = Array.from({ length: inspectors }, () => 0);
    for (let car = 0; car < cars; car += 1) {
      const next = free.indexOf(Math.min(...free));
      free[next] = (free[next] ?? 0) + minutes;
    }
    return cars === 0 ? 0 : Math.max(...free);
  }

  test('says when the line and each group are through, in the order of the first sessions', () => {
    const told = forecastLine([group('late', 90, 3), group('early', 30, 4, 2)], 2, 10);
    expect(told).toMatchObject({ waiting: 7, expected: 2, waitingDoneInMinutes: 40, allDoneInMinutes: 50 });
    expect(told.groups.map(({ runGroupId, doneInMinutes, inTime }) => [runGroupId, doneInMinutes, inTime])).toEqual([
      ['early', 30, true],
      ['late', 50, true],
    ]);
    // 6 cars in 30 minutes: 3 rounds of 10, so 2 inspectors; 9 cars in 90 minutes: 1
    expect(told.groups.map((one) => one.inspectorsNeeded)).toEqual([2, 1]);
    expect(told.inspectorsNeeded).toBe(2);
  });

  test('agrees with working the line through car by car, and the inspectors needed are the fewest', () => {
    const someGroups = fc.array(
      fc.record({ minutes: fc.integer({ min: 15, max: 400 }), waiting: fc.nat(25), expected: fc.nat(25) }),
      { minLength: 1, maxLength: 5 },
    );
    fc.assert(
      fc.property(
        someGroups,
        fc.integer({ min: 1, max: 9 }),
        fc.integer({ min: 1, max: 15 }),
        (some, inspectors, per) => {
          const groups = some.map(({ minutes, waiting, expected }, at) => group(`${at}`, minutes, waiting, expected));
          const told = forecastLine(groups, inspectors, per);
          const inTimeWith = (people: number) => {
            let cars = 0;
            return told.groups.every((one) => {
              cars += one.waiting + one.expected;
              return one.waiting + one.expected === 0 || simulate(cars, people, per) <= one.minutesToFirstSession;
            });
          };
          let cars = 0;
          for (const one of told.groups) {
            cars += one.waiting + one.expected;
            if (one.waiting + one.expected > 0) expect(one.doneInMinutes).toBe(simulate(cars, inspectors, per));
          }
          expect(told.allDoneInMinutes).toBe(simulate(cars, inspectors, per));
          const needed = told.inspectorsNeeded ?? 0;
          if (cars > 0) expect(inTimeWith(needed)).toBe(true);
          if (needed > 1) expect(inTimeWith(needed - 1)).toBe(false);
        },
      ),
    );
  });

  test('with nobody at work cannot tell when, but how many are needed', () => {
    const told = forecastLine([group('a', 60, 5)], 0, 12);
    expect(told).not.toHaveProperty('allDoneInMinutes');
    expect(told.groups[0]).not.toHaveProperty('inTime');
    expect(told.inspectorsNeeded).toBe(1);
  });

  test('a group whose session has begun with cars left is too late for any number', () => {
    const told = forecastLine([group('begun', -5, 1), group('later', 600, 1)], 3, 12);
    expect(told.groups[0]).not.toHaveProperty('inspectorsNeeded');
    expect(told.groups[0]?.inTime).toBe(false);
    expect(told).not.toHaveProperty('inspectorsNeeded');
    const through = forecastLine([group('begun', -5, 0), group('later', 600, 1)], 3, 12);
    expect(through.groups[0]).toMatchObject({ inTime: true, inspectorsNeeded: 0 });
    expect(through.inspectorsNeeded).toBe(1);
  });

  test('cars that come at random need no fewer people than a line that stands there', () => {
    const told = forecastLine([group('a', 180, 0, 60)], 4, 8);
    const [one] = told.groups;
    expect(one?.inspectorsNeeded).toBe(3);
    expect(one?.inspectorsForWaits ?? 0).toBeGreaterThanOrEqual(3);
    // never more than cars; without a minute left for them to come it cannot be told
    expect(forecastLine([group('a', 24, 0, 3)], 4, 8).groups[0]?.inspectorsForWaits).toBe(3);
    expect(forecastLine([group('a', 23, 0, 3)], 4, 8).groups[0]).not.toHaveProperty('inspectorsForWaits');
  });
});
