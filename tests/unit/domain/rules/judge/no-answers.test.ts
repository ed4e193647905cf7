import { describe, expect, it } from 'vitest';
import { listMissing, listNotApplicable, parseAnswers } from '../../../../../src/domain/declaration/declaration.ts';
import { noAnswerAt } from '../../../../../src/domain/declaration/no-answer.ts';
import { uncheckedFindings, valuesOn } from '../../../../../src/domain/line/line-judgement.ts';
import type { Vehicle } from '../../../../../src/domain/vehicle.ts';
import { answersOf, CAR, judge, judgeOne, makeRule } from '../rules-support.ts';

const LEVEL = {
  items: ['gearbox-fluid.level'],
  test: { kind: 'none-of', item: 'gearbox-fluid.level', field: 'level', values: ['low'] },
};
const LINES = { items: ['brake.lines'], test: { kind: 'confirm', item: 'brake.lines' } };
const SEALED = { 'gearbox-fluid.level': { doesNotApply: 'sealed-for-life' } };
const faults = (raw: unknown) => {
  const parsed = parseAnswers(raw);
  return parsed.ok ? [] : parsed.faults.map(({ pointer, code }) => `${pointer} ${code}`);
};

describe('what stands in the place of an answer', () => {
  it('is kept beside the answers and counts as answered', () => {
    const answers = answersOf({ ...SEALED, 'brake.lines': { notSure: true } });
    expect(noAnswerAt(answers, 'gearbox-fluid.level#level')).toEqual({
      kind: 'does-not-apply',
      reason: 'sealed-for-life',
    });
    expect(noAnswerAt(answers, 'brake.lines')).toEqual({ kind: 'not-sure' });
    const missing = listMissing(answers, CAR, 'entrant').map(({ key }) => key);
    expect(missing).not.toContain('gearbox-fluid.level');
    expect(missing).not.toContain('brake.lines');
    expect(listNotApplicable(answers, CAR)).toEqual([]);
  });

  it('is said once for all places, or of one', () => {
    const all = answersOf({ 'pad.thickness': { notSure: true } });
    expect(noAnswerAt(all, 'pad.thickness@RR.out')).toEqual({ kind: 'not-sure' });
    const one = answersOf({ 'pad.thickness': { 'FL.in': { notSure: true }, 'FL.out': 8 } });
    expect(noAnswerAt(one, 'pad.thickness@FL.in')).toEqual({ kind: 'not-sure' });
    expect(noAnswerAt(one, 'pad.thickness@FL.out')).toBeUndefined();
  });

  it.each([
    [{ 'brake.lines': { doesNotApply: 'sealed-for-life' } }, '/brake.lines/doesNotApply unknown-option'],
    [{ 'gearbox-fluid.level': { doesNotApply: 'too-lazy' } }, '/gearbox-fluid.level/doesNotApply unknown-option'],
    [{ 'gearbox-fluid.level': { doesNotApply: 1 } }, '/gearbox-fluid.level/doesNotApply unknown-option'],
    [{ 'brake.lines': { notSure: false } }, '/brake.lines/notSure wrong-type'],
    [{ 'brake.lines': { notSure: true, value: 3 } }, '/brake.lines/value unknown-field'],
    [
      { 'gearbox-fluid.level': { notSure: true, doesNotApply: 'sealed-for-life' } },
      '/gearbox-fluid.level unknown-field',
    ],
    [{ 'brake.pedal': { doesNotApply: 'none-fitted' } }, '/brake.pedal/doesNotApply unknown-option'],
  ])('%j is refused at its place', (raw, fault) => {
    expect(faults(raw)).toEqual([fault]);
  });
});

describe('a rule whose answer is said not to be there', () => {
  it('asks the line to look where it would bar, and never passes', () => {
    expect(judgeOne(LEVEL, SEALED)).toMatchObject({ result: 'unanswerable', counts: 'inspect', clearedBy: 'look' });
    expect(judgeOne(LINES, { 'brake.lines': { notSure: true } })).toMatchObject({ counts: 'inspect' });
    expect(judgeOne(LEVEL, {})).toMatchObject({ result: 'unanswerable', counts: 'bar' });
  });

  it('bars where only the entrant could answer: nobody at the line finds out when a fluid was changed', () => {
    const flushed = {
      items: ['brake-fluid.flushed-on'],
      test: { kind: 'age', item: 'brake-fluid.flushed-on', atMost: { value: 12, unit: 'month' } },
    };
    const notSure = { 'brake-fluid.flushed-on': { notSure: true } };
    expect(judgeOne(flushed, notSure)).toMatchObject({
      counts: 'bar',
      message: expect.stringContaining('only the entrant can find out'),
    });
    const readable = { ...flushed, noAnswer: { notSure: 'inspect' } };
    expect(judgeOne(readable, notSure)).toMatchObject({ counts: 'inspect' });
    expect(judgeOne({ ...flushed, effect: 'inspect' }, notSure)).toMatchObject({ counts: 'inspect' });
  });

  it('asks for the same look at the line, where a thing nobody said anything of bars', () => {
    const stage = { stage: 'line' } as const;
    expect(judgeOne(LEVEL, SEALED, stage)).toMatchObject({ counts: 'inspect' });
    expect(judgeOne(LEVEL, {}, stage)).toMatchObject({ counts: 'bar' });
  });

  it('advises nothing where what it advises on does not apply', () => {
    expect(judgeOne({ ...LEVEL, effect: 'advise' }, SEALED)).toMatchObject({ counts: 'no' });
    const notSure = { 'gearbox-fluid.level': { notSure: true } };
    expect(judgeOne({ ...LEVEL, effect: 'advise' }, notSure)).toMatchObject({ counts: 'advise' });
  });

  it.each([
    ['bar', 'bar'],
    ['inspect', 'inspect'],
    ['pass', 'no'],
  ] as const)('means what the rule says: %s', (doesNotApply, counts) => {
    expect(judgeOne({ ...LEVEL, noAnswer: { doesNotApply } }, SEALED)).toMatchObject({ counts });
  });

  it('tells what was said, with the reason as people read it', () => {
    expect(judgeOne(LEVEL, SEALED).message).toContain('declared not to apply (Sealed for life');
    expect(judgeOne(LINES, { 'brake.lines': { notSure: true } }).message).toContain('not sure');
  });

  it('bars as soon as one of several things it needs was simply not answered', () => {
    const rule = {
      items: ['brake.lines', 'brake.lights'],
      test: { kind: 'expression', expr: 'brake.lines || brake.lights' },
    };
    expect(judgeOne(rule, { 'brake.lines': { notSure: true } })).toMatchObject({ counts: 'bar' });
    const both = { 'brake.lines': { notSure: true }, 'brake.lights': { notSure: true } };
    expect(judgeOne(rule, both)).toMatchObject({ counts: 'inspect' });
  });

  it('is judged by what the line measured, whatever was said', () => {
    const measured = answersOf({ 'gearbox-fluid.level': { level: 'low' } });
    expect(judgeOne(LEVEL, SEALED, { measured, stage: 'line' })).toMatchObject({ result: 'not-met', counts: 'bar' });
  });

  it('is no way round a part that the record of the car has: the line measures it', () => {
    const pads = {
      items: ['pad.thickness'],
      test: { kind: 'limit', item: 'pad.thickness', atLeast: { value: 4, unit: 'mm' } },
    };
    const none = { doesNotApply: 'none-fitted' };
    const said = { 'pad.thickness': { 'FL.in': none, 'FL.out': 8, 'FR.in': 8, 'FR.out': 8 } };
    const at = (vehicle: Partial<Vehicle>) =>
      judge([makeRule(pads)], said, { vehicle: { ...CAR, ...vehicle } }).findings.find(
        ({ position }) => position === 'FL.in',
      );
    expect(at({})).toMatchObject({ counts: 'inspect', clearedBy: 'look' });
    expect(at({ rotor: { front: 'iron' } })).toMatchObject({ counts: 'inspect', clearedBy: 'measure' });
    expect(at({ rotor: { rear: 'iron' } })).toMatchObject({ counts: 'inspect', clearedBy: 'look' });
  });

  it('is read at the line where it stands on a label: a tick says nothing of a date that nobody knows', () => {
    const helmet = {
      items: ['helmet.made-on', 'helmet.standard'],
      test: { kind: 'age', item: 'helmet.made-on', atMost: { value: 10, unit: 'year' } },
    };
    const notSure = judgeOne(helmet, { 'helmet.made-on': { notSure: true } });
    expect(notSure).toMatchObject({ counts: 'inspect', clearedBy: 'measure' });
    const open = (check: { item: string; measured?: boolean }) =>
      uncheckedFindings([notSure], [check], valuesOn(CAR)).length > 0;
    expect(open({ item: 'helmet.made-on' })).toBe(true);
    expect(open({ item: 'helmet.standard', measured: true })).toBe(true);
    expect(open({ item: 'helmet.made-on', measured: true })).toBe(false);
    // what is judged by eye is still looked at
    expect(judgeOne(LINES, { 'brake.lines': { notSure: true } })).toMatchObject({ clearedBy: 'look' });
  });

  it('does not take it for an item that only the inspector answers', () => {
    const rule = {
      items: ['brake-fluid.measured-boiling-point'],
      test: { kind: 'limit', item: 'brake-fluid.measured-boiling-point', atLeast: { value: 200, unit: '°C' } },
    };
    const raw = { 'brake-fluid.measured-boiling-point': { notSure: true } };
    expect(judgeOne(rule, raw, { stage: 'line' })).toMatchObject({ counts: 'bar' });
  });
});

describe('a limit that the record of the car does not state', () => {
  const rule = makeRule({
    items: ['rotor.thickness'],
    test: { kind: 'limit', item: 'rotor.thickness', atLeast: { vehicle: 'rotorMinimumThicknessMm' } },
  });

  it('is read off the car at the line, and bars nobody who cannot mend it', () => {
    const raw = { 'rotor.thickness': { FL: 25, FR: 25, RL: 20, RR: 20 } };
    for (const finding of judge([rule], raw).findings) {
      expect(finding).toMatchObject({ result: 'unanswerable', counts: 'inspect', clearedBy: 'measure' });
    }
    expect(judge([rule], {}).findings[0]).toMatchObject({ counts: 'bar' });
  });
});
