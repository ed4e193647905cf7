import { describe, expect, it, test } from 'vitest';
import { listMissing, listNotApplicable, parseAnswers } from '../../../../src/domain/declaration/declaration.ts';
import { basisAt, placesChanged, stillSaid } from '../../../../src/domain/declaration/basis.ts';
import { pointsToCheck } from '../../../../src/domain/line/points-to-check.ts';
import { answersOf, judge, makeRule } from '../rules/rules-support.ts';

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

const lowest = (value: unknown, basis = 'lowest-of-axle') => ({ basis, value });
const faults = (raw: unknown): string[] => {
  const parsed = parseAnswers(raw);
  return parsed.ok ? [] : parsed.faults.map(({ pointer, code }) => `${pointer} ${code}`);
};
const CAR = { description: 'A car', rotor: { front: 'iron', rear: 'drum' } } as const;
const ENOUGH = { declaredParameters: { lowestIsEnough: { value: true, meaning: 'The lowest is asked' } } };

describe('one value for several places', () => {
  it('is one value, with what it rests on', () => {
    const answers = answersOf({
      'pad.thickness': { front: lowest({ value: 8, unit: '1/32in' }) },
      'tyre.tread': { RL: lowest(3.4, 'lowest-of-tyre') },
      'tyre.date-code': { FL: '2318', FR: { basis: 'same-as', of: 'FL' } },
    });
    // 8/32 in is 6.35 mm, kept in tenths
    expect(answers.get('pad.thickness@front')).toBe(6.4);
    expect(answers.has('pad.thickness@FL.in')).toBe(false);
    expect(basisAt(answers, 'pad.thickness@front')).toEqual({ basis: 'lowest-of-axle' });
    expect(answers.get('tyre.tread@RL')).toBe(3.4);
    expect(answers.get('tyre.date-code@FR')).toBe('2318');
    expect(basisAt(answers, 'tyre.date-code@FR')).toEqual({ basis: 'same-as', of: 'FL' });
    expect(basisAt(answers, 'tyre.date-code@FL')).toBeUndefined();
  });

  it('of each place is an answer of each that was looked at, but for those that differ', () => {
    const answers = answersOf({
      'wheel-play.nine-three': {
        basis: 'each-place',
        value: { felt: 'none' },
        except: { RR: { felt: 'felt', mm: 2 } },
      },
      'rotor.cracks': { basis: 'each-place', value: 'none' },
    });
    expect(answers.get('wheel-play.nine-three@FL#felt')).toBe('none');
    expect(answers.get('wheel-play.nine-three@RR#felt')).toBe('felt');
    expect(basisAt(answers, 'wheel-play.nine-three@FL#felt')).toEqual({ basis: 'each-place' });
    expect(basisAt(answers, 'wheel-play.nine-three@RR')).toBeUndefined();
    // of the places that the car has: it has no rotors behind
    expect(listNotApplicable(answers, CAR)).toEqual([]);
    expect(listMissing(answers, CAR, 'entrant').map(({ key }) => key)).not.toContain('rotor.cracks');
  });

  it.each([
    [{ 'pad.thickness': { front: 7 } }, '/pad.thickness/front missing-field'],
    [{ 'pad.thickness': { front: lowest(7, 'lowest-of-tyre') } }, '/pad.thickness/front/basis unknown-option'],
    [{ 'pad.thickness': { front: lowest(77) } }, '/pad.thickness/front/value impossible-value'],
    [{ 'pad.thickness': { front: { ...lowest(7), of: 'FL' } } }, '/pad.thickness/front/of unknown-field'],
    [{ 'pad.thickness': { basis: 'each-place', value: 7 } }, '/pad.thickness/basis unknown-option'],
    [{ 'wheel.cracks': { front: lowest('none') } }, '/wheel.cracks/front unknown-position'],
    [{ 'wheel.cracks': { basis: 'each-place', value: 'perhaps' } }, '/wheel.cracks/value unknown-option'],
    [
      { 'wheel.cracks': { basis: 'each-place', value: 'none', except: { XX: 'crack' } } },
      '/wheel.cracks/except/XX unknown-position',
    ],
    [{ 'tyre.date-code': { FR: { basis: 'same-as', of: 'FL' } } }, '/tyre.date-code/FR/of unknown-position'],
    [{ 'tyre.date-code': { FL: '2318', FR: { basis: 'guessed' } } }, '/tyre.date-code/FR/basis unknown-option'],
  ])('%j is refused at its place', (raw, fault) => {
    expect(faults(raw)).toEqual([fault]);
  });
});

describe('judging one value for several places', () => {
  const minimum = makeRule({
    items: ['rotor.thickness'],
    test: { kind: 'limit', item: 'rotor.thickness', atLeast: { vehicle: 'rotorMinimumThicknessMm' } },
  });
  const spread = makeRule({
    items: ['pad.thickness'],
    test: { kind: 'spread', item: 'pad.thickness', within: 'wheel', atMost: { value: 2, unit: 'mm' } },
    when: 'params.lowestIsEnough',
  });

  it('holds a rotor to the larger minimum of its axle', () => {
    const vehicle = { description: 'A car', rotorMinimumThicknessMm: { FL: 20, FR: 21, RL: 9, RR: 9 } };
    const raw = { 'rotor.thickness': { front: lowest(20.5), rear: lowest(9.5) } };
    const { findings } = judge([minimum], raw, { vehicle });
    expect(findings.map(({ position, result }) => [position, result])).toEqual([
      ['FL', 'met'],
      ['FR', 'not-met'],
      ['RL', 'met'],
      ['RR', 'met'],
    ]);
  });

  it('asks no difference of it where the group asks the lowest, and bars where it asks each place', () => {
    const raw = { 'pad.thickness': { front: lowest(7), rear: lowest(7) } };
    expect(judge([spread], raw, ENOUGH).findings).toEqual([]);
    const each = { ...spread, when: undefined };
    expect(judge([each], raw).verdict).toBe('barred');
    // what is given one by one is compared whatever the group asks
    const own = { 'pad.thickness': { 'FL.in': 9, 'FL.out': 5, rear: lowest(7) } };
    const found = judge([spread], own, ENOUGH).findings;
    expect(found.map(({ position, result }) => [position, result])).toEqual([['FL', 'not-met']]);
  });

  it('lets a measurement at a place take its turn there, and not to be sure of a place is no matter of the others', () => {
    const raw = { 'rotor.thickness': { front: lowest(22), rear: lowest(22), FR: { notSure: true } } };
    const vehicle = { description: 'A car', rotorMinimumThicknessMm: { FL: 20, FR: 20, RL: 20, RR: 20 } };
    const measured = answersOf({ 'rotor.thickness': { FL: 19 } });
    const { findings } = judge([minimum], raw, { vehicle, measured, stage: 'line' });
    expect(findings.map(({ result }) => result)).toEqual(['not-met', 'unanswerable', 'met', 'met']);
  });

  it('is shown at the line with what it rests on', () => {
    const answers = answersOf({
      'pad.thickness': { front: lowest(7) },
      'wheel.cracks': { basis: 'each-place', value: 'none' },
    });
    const points = pointsToCheck([], answers, { description: 'A car' });
    expect(points.find(({ item, position }) => item === 'pad.thickness' && position === 'FR.out')).toMatchObject({
      declared: { value: 7 },
      basis: { basis: 'lowest-of-axle' },
    });
    expect(points.find(({ item, position }) => item === 'wheel.cracks' && position === 'RL')).toMatchObject({
      basis: { basis: 'each-place' },
    });
  });
});
