import { expect, test } from 'vitest';
import { runDay } from '../../../../src/domain/foresight/line-day.ts';
import {
  baileyWelch,
  inspectorsMissing,
  planLine,
  SAFE_SHARE,
  spaceOut,
} from '../../../../src/domain/foresight/line-times.ts';

const cars = (count: number, dueAt: number, meanMinutes = 6) =>
  Array.from({ length: count }, (_, at) => ({ id: `${dueAt}-${at}`, dueAt, meanMinutes }));
const shift = (inspectors: number, from = 0, to = 600) => ({ from, to, inspectors });

test('whoever is there and whose turn it is goes next; nobody begins after his shift', () => {
  const car = (comesAt: number | undefined, turn: number, minutes = 10) => ({ comesAt, turn, minutes, dueAt: 35 });
  const day = runDay([car(0, 3), car(2, 2), car(1, 1), car(undefined, 0), car(29, 4)], [shift(1, 0, 30)]);
  // 0 to 10, then the lower turn of the two that wait: 10 to 20, 20 to 30; the last would begin at 30
  expect(day.waits).toEqual([0, 18, 9, undefined, undefined]);
  expect(day.endsAt).toBe(30);
  expect(day.missed).toBe(1);
});

test('times follow the people who are at the line', () => {
  const times = spaceOut(cars(6, 500, 10), [shift(1, 0, 20), shift(2, 20, 600)], { atStart: 1, stretch: 1 });
  expect(times.map(({ at }) => at)).toEqual([0, 10, 20, 25, 30, 35]);
});

test('first sessions come first, whatever the order of the list', () => {
  const { times } = planLine([...cars(5, 300), ...cars(5, 120)], [shift(2)]);
  expect(times.slice(0, 5).every(({ id }) => id.startsWith('120'))).toBe(true);
});

test('a plan is never worse than two at the start, in wait or in time', () => {
  const asked = [...cars(20, 120), ...cars(14, 180)];
  const plan = planLine(asked, [shift(2)]);
  expect(plan.allInTime).toBeGreaterThanOrEqual(SAFE_SHARE);
  const rule = spaceOut(asked, [shift(2)], baileyWelch(2));
  expect(rule.filter(({ at }) => at === 0)).toHaveLength(4);
  expect(plan.meanWait).toBeLessThan(12);
});

test('too many cars are said the evening before, with who would be needed', () => {
  const asked = cars(40, 120);
  const plan = planLine(asked, [shift(1)]);
  expect(plan.allInTime).toBe(0);
  // one inspector has time for 20 cars of six minutes
  expect(plan.missing).toBeGreaterThan(15);
  expect(inspectorsMissing(asked, [shift(1)])).toBeGreaterThanOrEqual(1);
  expect(inspectorsMissing(cars(10, 120), [shift(1)])).toBe(0);
  expect(inspectorsMissing(cars(10, 1), [shift(1)])).toBeUndefined();
});

test('nobody at the line: no car is done, and it is said so', () => {
  const plan = planLine(cars(3, 120), [{ from: 0, to: 600, inspectors: 0 }]);
  expect(plan.allInTime).toBe(0);
  expect(plan.missing).toBeGreaterThan(2);
});
