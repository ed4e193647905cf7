import { describe, expect, test } from 'vitest';
import {
  type ChosenLook,
  kindOfCar,
  lookablesOf,
  secondsToSpare,
  withChosen,
} from '../../../../src/domain/foresight/line-looks.ts';
import type { PointToCheck } from '../../../../src/domain/line/points-to-check.ts';
import type { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';

const point = (item: string, asked: PointToCheck['asked'] = 'usual', position?: string): PointToCheck => ({
  item,
  label: item,
  why: 'Declared; the line checks it.',
  asked,
  ...(position === undefined ? {} : { position }),
});
const rule = (item: string, effect: 'bar' | 'inspect' | 'advise', more: object = {}) => ({
  id: `${item}-${effect}`,
  items: [item],
  effect,
  ...more,
});
// only what is read of it
const ruleSet = (rules: object[], alwaysLook: object[] = []) => ({ rules, alwaysLook }) as unknown as RuleSet;

describe('what may be looked at beyond what must be', () => {
  const points = [
    point('brake.pedal', 'always'),
    point('pad.thickness', 'rule', 'FL.in'),
    point('pad.thickness', 'usual', 'FR.in'),
    point('wheel.cracks', 'doubt', 'FL'),
    point('battery.secured'),
    point('radiator.debris'),
    point('rotor.thickness', 'usual', 'FL'),
    point('rotor.thickness', 'usual', 'FR'),
  ];

  test('is what nothing opened, each item once; what anything opened is never traded', () => {
    const rules = [rule('radiator.debris', 'inspect'), rule('battery.secured', 'bar', { safetyCritical: true })];
    const items = lookablesOf(points, ruleSet(rules));
    expect(items.map(({ item, harm }) => [item, harm])).toEqual([
      ['battery.secured', 10],
      ['radiator.debris', 5],
      ['rotor.thickness', 1],
    ]);
    expect(items[2]?.seconds).toBeGreaterThan(items[1]?.seconds ?? Infinity);
  });

  test('takes as long as the rules say it takes', () => {
    const looks = [{ id: 'battery', title: 'Shake it', items: ['battery.secured'], seconds: 7 }];
    expect(lookablesOf([point('battery.secured')], ruleSet([], looks))[0]?.seconds).toBe(7);
  });

  test('what is chosen stands after what must be looked at, before the rest, and says why', () => {
    const look: ChosenLook = { item: 'radiator.debris', why: 'worth', chance: 0.17, looked: 41, wrong: 7, seconds: 20 };
    const shown = withChosen(points, [look, { ...look, item: 'wheel.cracks' }], 'en');
    expect(shown.map(({ item, asked }) => `${item} ${asked}`)).toEqual([
      'brake.pedal always',
      'pad.thickness rule',
      'wheel.cracks doubt',
      'radiator.debris chosen',
      'pad.thickness usual',
      'battery.secured usual',
      'rotor.thickness usual',
      'rotor.thickness usual',
    ]);
    expect(shown[3]).toMatchObject({ why: 'Wrong on 7 of 41 such cars that were looked at.', chosen: look });
    const says = (one: Partial<ChosenLook>) => withChosen(points, [{ ...look, wrong: 0, ...one }], 'de')[3]?.why;
    for (const why of [says({}), says({ looked: 0 }), says({ why: 'learn' }), says({ wrong: 7 })])
      expect(why).toMatch(/[Aa]uto/u);
  });
});

describe('the seconds to spare', () => {
  const morning = { minutesToSession: 120, inspectors: 2, carsWaiting: 20, minutesPerCar: 10 };

  test('are what is left of the time to the first session, shared among the cars; none where the line is behind', () => {
    // 120 min · 2 inspectors / 20 cars are 12 min a car: 2 more than it takes
    expect(secondsToSpare(morning)).toBe(120);
    expect(secondsToSpare({ ...morning, carsWaiting: 24 })).toBe(0);
    expect(secondsToSpare({ ...morning, carsWaiting: 60 })).toBe(0);
    expect(secondsToSpare({ ...morning, inspectors: 0, carsWaiting: 12 })).toBe(0);
  });

  test('never keep a car for long, and nobody is behind of a session that has begun', () => {
    expect(secondsToSpare({ ...morning, carsWaiting: 1 })).toBe(180);
    expect(secondsToSpare({ ...morning, minutesToSession: -5 })).toBe(180);
  });
});

test('cars of a kind are described alike but for year and spelling', () => {
  expect(kindOfCar({ description: 'Club coupé 2.0, 2014' })).toBe(kindOfCar({ description: 'Club Coupé  2.0 (2016)' }));
  expect(kindOfCar({ description: 'Club coupé 2.0' })).not.toBe(kindOfCar({ description: 'Club coupé 1.6' }));
});
