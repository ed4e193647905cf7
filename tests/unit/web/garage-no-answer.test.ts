import { describe, expect, test } from 'vitest';
import { findItem } from '../../../src/domain/catalogue/catalogue.ts';
import { type Item, POSITION_KEYS } from '../../../src/domain/catalogue/item.ts';
import { parseAnswers } from '../../../src/domain/declaration/declaration.ts';
import { type FormItem, placesOf } from '../../../src/web/garage/kept/asked.ts';
import { answersOf, cellAtPointer, cellsOfAnswer } from '../../../src/web/garage/kept/cells.ts';
import { doubtAbout, doubtedCells } from '../../../src/web/garage/kept/declaration.ts';
import { merge } from '../../../src/web/garage/kept/keep.ts';

function itemOf(key: string): FormItem {
  const { positions: scheme, ...item } = findItem(key) as Item;
  const positions = scheme === undefined ? {} : { positions: POSITION_KEYS[scheme] };
  return {
    ...item,
    ...positions,
    asked: 'required',
    doesNotApply: [],
    cautions: [],
    rules: [],
    photos: [],
    missing: [],
  };
}

const PADS = itemOf('pad.thickness');
const DATE = itemOf('gearbox-fluid.changed-on');
const LEVEL = itemOf('gearbox-fluid.level');
const NOT_SURE = { notSure: true } as const;
const SEALED = { doesNotApply: 'sealed-for-life' } as const;

describe('what stands in the place of an answer', () => {
  test('goes to the server as it reads it, counts as given, and comes back the same', () => {
    const cells = { ...cellsOfAnswer(DATE, SEALED), ...cellsOfAnswer(LEVEL, NOT_SURE) };
    const { answers, withheld } = answersOf([DATE, LEVEL], cells);
    expect(answers).toEqual({ 'gearbox-fluid.changed-on': SEALED, 'gearbox-fluid.level': NOT_SURE });
    expect(withheld).toEqual([]);
    expect(parseAnswers(answers).ok).toBe(true);
    for (const item of [DATE, LEVEL]) {
      expect(placesOf(item).every(({ cell, part }) => part?.required === false || Object.hasOwn(cells, cell))).toBe(
        true,
      );
      expect(cellsOfAnswer(item, answers[item.key])).toEqual(
        Object.fromEntries(placesOf(item).map(({ cell }) => [cell, cells[cell]])),
      );
    }
  });

  test('of an item with places stands at each, also where it was said once for all', () => {
    const cells = cellsOfAnswer(PADS, NOT_SURE);
    expect(Object.keys(cells)).toHaveLength(placesOf(PADS).length);
    const mixed = { ...cells, 'pad.thickness@FL.in': 5.5 };
    expect(answersOf([PADS], mixed).answers['pad.thickness']).toMatchObject({ 'FL.in': 5.5, 'FL.out': NOT_SURE });
  });

  test('never stands beside a value in one answer', () => {
    const cells = cellsOfAnswer(LEVEL, NOT_SURE);
    const [first = ''] = Object.keys(cells);
    const { answers, withheld } = answersOf([LEVEL], { ...cells, [first]: 'low' });
    expect(answers).toEqual({});
    expect(withheld).toContain(first);
  });

  test('against a value from another device is for a person to decide', () => {
    const cell = 'gearbox-fluid.changed-on';
    const { conflicts, cells } = merge({}, { [cell]: '2026-03-04' }, { [cell]: SEALED });
    expect(conflicts).toEqual([{ cell, mine: '2026-03-04', theirs: SEALED }]);
    expect(cells[cell]).toBe('2026-03-04');
  });

  test('a refusal of it belongs to the field of its place', () => {
    const items = [DATE, LEVEL];
    expect(cellAtPointer(items, '/answers/gearbox-fluid.changed-on/doesNotApply')).toBe('gearbox-fluid.changed-on');
    const [first] = placesOf(LEVEL);
    expect(cellAtPointer(items, '/answers/gearbox-fluid.level/doesNotApply')).toBe(first?.cell);
  });
});

// Bounds of what pads have: of the catalogue, common practice, no source.
describe('a number that such a thing hardly has', () => {
  const about = (leaf: Parameters<typeof doubtAbout>[1]) => placesOf(PADS).map((place) => doubtAbout(place, leaf))[0];

  test('is asked back, with what a slip of the decimal point makes of it', () => {
    expect(about(5.2)).toBeUndefined();
    expect(about(36)).toEqual({ value: 36, meant: 3.6, isPossible: true });
    expect(about({ value: 1.4, unit: 'in' })).toMatchObject({ value: 35.6, isPossible: true });
    // Impossible is the server's to refuse; what was meant is offered all the same.
    expect(about(52)).toEqual({ value: 52, meant: 5.2, isPossible: false });
    expect(about(NOT_SURE)).toBeUndefined();
  });

  test('is held back until it is said a second time, or is with the server', () => {
    const cells = { 'pad.thickness@FL.in': 36, 'pad.thickness@FL.out': 6 };
    const none = { saved: {}, confirmed: {} };
    expect(doubtedCells([PADS], cells, none)).toEqual(['pad.thickness@FL.in']);
    expect(doubtedCells([PADS], cells, { ...none, confirmed: { 'pad.thickness@FL.in': 36 } })).toEqual([]);
    expect(doubtedCells([PADS], cells, { ...none, saved: cells })).toEqual([]);
    expect(doubtedCells([PADS], cells, { ...none, confirmed: { 'pad.thickness@FL.in': 35 } })).toHaveLength(1);
  });
});
