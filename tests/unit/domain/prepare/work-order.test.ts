import { expect, test } from 'vitest';
import { PART_DAYS } from '../../../../src/domain/prepare/work-table.ts';
import { orderBy, workOrder } from '../../../../src/domain/prepare/work-order.ts';

const found = (ruleId: string, item: string, counts: 'bar' | 'inspect' | 'advise', position?: string) => ({
  ruleId,
  title: ruleId,
  result: 'not-met' as const,
  counts,
  items: [item],
  message: `${ruleId} is wrong`,
  fix: 'Mend it.',
  ...(position === undefined ? {} : { position }),
});

const ANSWERED = new Set([
  'radiator.debris',
  'pad.thickness',
  'pad.temperature-range',
  'caliper.guides',
  'oil.changed-on',
  'master-switch',
]);

test('places of one job stand on one line, and what stops the car comes first', () => {
  const { lines } = workOrder(
    [
      found('radiator', 'radiator.debris', 'inspect'),
      found('pads', 'pad.thickness', 'bar', 'FL.in'),
      found('pads', 'pad.thickness', 'bar', 'FR.in'),
    ],
    {},
    ANSWERED,
  );
  expect(lines.map(({ ruleId, positions }) => [ruleId, positions])).toEqual([
    ['pads', ['FL.in', 'FR.in']],
    ['radiator', []],
  ]);
});

test('parts at wheels are for an axle; without them the car stands, or it is good to have them', () => {
  const { parts } = workOrder(
    [
      found('mounts', 'caliper.guides', 'inspect', 'RL'),
      found('pads', 'pad.thickness', 'bar', 'FL.in'),
      found('pads-range', 'pad.temperature-range', 'inspect', 'rear'),
      found('oil', 'oil.changed-on', 'advise'),
    ],
    {},
    ANSWERED,
  );
  expect(parts).toEqual([
    { part: 'pads', places: ['front', 'rear'], isNeeded: true },
    { part: 'caliper-kit', places: ['rear'], isNeeded: false },
  ]);
});

test('what is met, watched, conceded or only not answered is no work', () => {
  const one = found('pads', 'pad.thickness', 'bar');
  const { lines } = workOrder(
    [
      { ...one, result: 'met' as const, counts: 'no' as const },
      { ...one, watched: true as const },
      { ...one, counts: 'no' as const },
      { ...one, result: 'unanswerable' as const },
    ],
    {},
    ANSWERED,
  );
  expect(lines).toEqual([]);
});

test('what nobody has answered is a question, whatever a rule makes of it', () => {
  expect(workOrder([found('rating-known', 'tyre.rating', 'inspect', 'FL')], {}, ANSWERED)).toEqual({
    lines: [],
    parts: [],
  });
});

test('a torque is what the record of the car says, and nothing where it does not', () => {
  expect(workOrder([], { wheelNutTorqueNm: 110, wheelNutTorqueToleranceNm: 10 }, ANSWERED).wheelTorque).toEqual({
    nm: 110,
    toleranceNm: 10,
  });
  expect(workOrder([], {}, ANSWERED).wheelTorque).toBeUndefined();
});

test('parts are ordered two weeks before the event, and today once those have begun', () => {
  expect(orderBy('2026-06-13', '2026-05-01')).toBe('2026-05-30');
  expect(orderBy('2026-06-13', '2026-06-02')).toBe('2026-06-02');
});

test('a workshop orders no appointment in a workshop, and every part is waited for less than that', () => {
  expect(workOrder([found('master', 'master-switch', 'bar')], {}, ANSWERED).parts).toEqual([]);
  expect(Math.max(...Object.values(PART_DAYS))).toBeLessThan(14);
});
