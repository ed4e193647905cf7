import { expect, test } from 'vitest';
import { parseAnswers } from '../../../../src/domain/declaration/declaration.ts';
import { placesChanged, stillSaid } from '../../../../src/domain/declaration/who-said.ts';

function read(raw: object) {
  const parsed = parseAnswers(raw);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.answers;
}

const SAID = { 'pad.thickness@FL.in': 'a', 'pad.thickness@FR.in': 'a', 'oil.grade': 'b' };
const BEFORE = read({ 'oil.grade': '5W-40', 'pad.thickness': { 'FL.in': 8, 'FR.in': 8 } });

test('an answer that is the same stays said; another spelling of it is the same', () => {
  const after = read({ 'oil.grade': '5w40', 'pad.thickness': { 'FL.in': { value: 0.8, unit: 'cm' }, 'FR.in': 8 } });
  expect(stillSaid(SAID, BEFORE, after)).toEqual(SAID);
});

test('a place that changed, or is gone, has nobody else’s name', () => {
  const after = read({ 'pad.thickness': { 'FL.in': 7.9, 'FR.in': 8 } });
  expect(stillSaid(SAID, BEFORE, after)).toEqual({ 'pad.thickness@FR.in': 'a' });
});

test('"not sure" in the place of a value is another answer', () => {
  const after = read({ 'oil.grade': { notSure: true }, 'pad.thickness': { 'FL.in': 8, 'FR.in': 8 } });
  expect(stillSaid(SAID, BEFORE, after)).not.toHaveProperty('oil.grade');
  expect(placesChanged(BEFORE, after)).toEqual(['oil.grade']);
});

test('a place that is the same as another one changes with it', () => {
  const same = (code: string) => read({ 'tyre.date-code': { FL: code, FR: { basis: 'same-as', of: 'FL' } } });
  const said = { 'tyre.date-code@FR': 'a' };
  expect(stillSaid(said, same('2321'), same('2321'))).toEqual(said);
  expect(stillSaid(said, same('2321'), same('2421'))).toEqual({});
});

test('what was taken away is not changed: nobody stands for nothing', () => {
  expect(placesChanged(BEFORE, read({}))).toEqual([]);
  expect(placesChanged(read({}), BEFORE).toSorted()).toEqual(Object.keys(SAID).toSorted());
});
