import fc from 'fast-check';
import { expect, test } from 'vitest';
import { type ClearanceFacts, NOTHING_YET } from '../../../../src/domain/clearance/clearance.ts';
import { lineOptions, whomToCall } from '../../../../src/domain/line/what-helps.ts';
import { alone } from '../../../support/clearance-histories.ts';

const NOW = new Date('2026-06-13T06:00:00.000Z');
const DECLARED = { inspectionId: 'i', revision: 1, verdict: 'clean', bars: [] } as const;
const BARRED = { ...NOTHING_YET, declared: { ...DECLARED, bars: [{ ruleId: 'r', title: 'R' }] } };

const entry = (carNumber: string, runGroupId: string, facts: ClearanceFacts) => ({
  entryId: carNumber,
  carNumber,
  runGroupId,
  facts,
  state: alone(facts),
  onLine: false,
});

test('whoever starts first is called first; who has declared well, or is out, is not called', () => {
  const entries = [
    entry('1', 'late', NOTHING_YET),
    entry('2', 'early', BARRED),
    entry('3', 'early', NOTHING_YET),
    entry('4', 'early', { ...NOTHING_YET, declared: DECLARED }),
    entry('5', 'early', { ...NOTHING_YET, withdrawn: true }),
    entry('6', 'nowhere', NOTHING_YET),
  ];
  const sessions = new Map([
    ['late', '2026-06-13T09:00:00.000Z'],
    ['early', '2026-06-13T07:00:00.000Z'],
  ]);
  expect(whomToCall(entries, sessions, NOW).map(({ entry: { carNumber }, why }) => [carNumber, why])).toEqual([
    ['3', 'not-declared'],
    ['2', 'barred'],
    ['1', 'not-declared'],
    ['6', 'not-declared'],
  ]);
});

// By hand: 6 cars of 10 minutes before 07:00 and 4 more before 08:00, now 06:00. One person: 60 and 100 minutes.
test('says who is late with how many, when all are through, and by when so many must begin', () => {
  const groups = [
    { runGroupId: 'second', minutesToFirstSession: 90, cars: 4 },
    { runGroupId: 'first', minutesToFirstSession: 50, cars: 6 },
    { runGroupId: 'empty', minutesToFirstSession: -30, cars: 0 },
  ];
  expect(lineOptions(groups, 1, 10)).toEqual([
    { inspectors: 1, allDoneInMinutes: 100, lateGroups: ['first', 'second'], startInMinutes: -10 },
    { inspectors: 2, allDoneInMinutes: 50, lateGroups: [], startInMinutes: 20 },
    { inspectors: 3, allDoneInMinutes: 40, lateGroups: [], startInMinutes: 30 },
  ]);
  expect(lineOptions(groups, 0, 10).map(({ inspectors }) => inspectors)).toEqual([1, 2, 3]);
  expect(lineOptions([], 1, 10)[0]).toEqual({ inspectors: 1, allDoneInMinutes: 0, lateGroups: [] });
});

test('one person more never makes it later; whoever begins in time is late for nobody', () => {
  const group = fc.record({
    runGroupId: fc.uuid(),
    minutesToFirstSession: fc.integer({ min: -60, max: 600 }),
    cars: fc.integer({ min: 0, max: 60 }),
  });
  fc.assert(
    fc.property(
      fc.array(group, { maxLength: 6 }),
      fc.integer({ min: 0, max: 8 }),
      fc.integer({ min: 1, max: 40 }),
      (groups, inspectors, minutes) => {
        const options = lineOptions(groups, inspectors, minutes);
        for (const [at, option] of options.entries()) {
          const fewer = options[at - 1];
          if (fewer !== undefined) expect(option.allDoneInMinutes).toBeLessThanOrEqual(fewer.allDoneInMinutes);
          expect(option.lateGroups.length === 0).toBe((option.startInMinutes ?? 0) >= 0);
        }
      },
    ),
  );
});
