import { describe, expect, it } from 'vitest';
import { checkOverrides } from '../../../../src/domain/rules/check/check.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import { faultsOf, judge, judgeOne, makeRule, makeRuleSet } from './rules-support.ts';

const OLD = {
  items: ['tyre.date-code'],
  each: 'wheel',
  test: { kind: 'expression', expr: 'facts.tyreAge < q(120, "month")' },
};
const codes = (FL: string) => ({ 'tyre.date-code': { FL, FR: '2324', RL: '2324', RR: '2324' } });
const PLAY = {
  items: ['wheel-play.nine-three'],
  test: { kind: 'one-of', item: 'wheel-play.nine-three', field: 'felt', values: ['none'] },
  fixFact: 'wheelPlayDiagnosis',
};

describe('a rule on a derived fact', () => {
  it('shows the fact, the limit and the margin, at the position of the rule', () => {
    // the event ends on 2026-11-29: week 48 of 2016 begins on 27 November at the earliest
    const { findings } = judge([makeRule(OLD)], codes('4816'));
    expect(findings.find(({ position }) => position === 'FL')).toMatchObject({
      result: 'not-met',
      counts: 'bar',
      measured: { value: 120, unit: 'month' },
      margin: { value: 0, unit: 'month' },
      source: 'declared',
    });
    expect(findings.filter(({ result }) => result === 'met').map(({ position }) => position)).toEqual([
      'FR',
      'RL',
      'RR',
    ]);
  });

  it('is unanswerable where the fact cannot be derived, names why, and bars', () => {
    const { findings } = judge([makeRule(OLD)], { 'tyre.date-code': { FL: '239' } });
    expect(findings[0]).toMatchObject({ result: 'unanswerable', counts: 'bar' });
    expect(findings[0]?.message).toContain('The date code of the tyre at FL');
    expect(findings[1]?.message).toBe('No answer for "Tyre date code" at FR');
  });

  it('names what the records of venue and car lack', () => {
    const rule = {
      items: ['brake-fluid.wet-boiling-point'],
      test: { kind: 'expression', expr: 'brake_fluid.wet_boiling_point >= facts.brakeWetBoilingPointNeeded' },
    };
    const finding = judgeOne(rule, { 'brake-fluid.wet-boiling-point': 180 });
    // nobody who declares can mend a record: the line looks
    expect(finding).toMatchObject({ result: 'unanswerable', counts: 'inspect' });
    expect(finding.message).toBe('The venue record has no braking zones; The vehicle record has no massKg');
  });

  it('sees one value per position as a map, and the one of its own position', () => {
    const all = {
      items: ['tyre.date-code'],
      test: { kind: 'expression', expr: 'max(facts.tyreAge) < q(120, "month")' },
    };
    expect(judgeOne(all, codes('4816')).result).toBe('not-met');
    expect(judgeOne(all, codes('4816'), { measured: new Map([['tyre.date-code@FL', '2324']]) }).result).toBe('met');
    const pads = {
      items: ['pad.thickness'],
      each: 'wheel-side',
      test: { kind: 'expression', expr: 'pad.thickness >= q(2, "mm") || facts.tyreAge > q(0, "month")' },
    };
    expect(faultsOf(makeRuleSet({ rules: [makeRule(pads)] }))).toEqual(['/rules/0/items item-not-listed']);
  });

  it('is refused for a fact that there is not', () => {
    const rule = makeRule({ ...OLD, test: { kind: 'expression', expr: 'facts.tyreColour == "black"' } });
    expect(faultsOf(makeRuleSet({ rules: [rule] }))).toEqual(['/rules/0/test/expr unknown-name']);
  });
});

describe('a temperature and a difference', () => {
  const rule = makeRule({
    items: ['brake-fluid.wet-boiling-point'],
    test: { kind: 'expression', expr: 'brake_fluid.wet_boiling_point >= q(160, "°C") + params.margin' },
  });
  const parameters = { margin: { value: 10, unit: 'K', meaning: 'Above it' } };
  const result = (celsius: number, overrides = {}) =>
    judge(
      [rule],
      { 'brake-fluid.wet-boiling-point': celsius },
      { declaredParameters: parameters, parameters: overrides },
    ).findings[0]?.result;

  it('add up: 160 °C + 10 K is 170 °C', () => {
    expect([result(170), result(169)]).toEqual(['met', 'not-met']);
    expect(result(170, { margin: { value: 11, unit: 'K' } })).toBe('not-met');
  });

  it('do so in °F: 320 °F + 10 K is 338 °F, 170 °C', () => {
    const inF = makeRule({
      ...rule,
      test: { kind: 'expression', expr: 'brake_fluid.wet_boiling_point >= q(320, "°F") + q(10, "K")' },
    });
    const say = (celsius: number) => judge([inF], { 'brake-fluid.wet-boiling-point': celsius }).findings[0]?.result;
    expect([say(170), say(169)]).toEqual(['met', 'not-met']);
  });

  it('a difference is overridden in K only', () => {
    const ruleSet = RuleSet.parse(makeRuleSet({ rules: [rule], parameters }));
    const codesOf = (unit: string) =>
      checkOverrides(ruleSet, { margin: { value: 5, unit } }).map(({ pointer, code }) => `${pointer} ${code}`);
    expect([codesOf('K'), codesOf('°C'), codesOf('°F')]).toEqual([
      [],
      ['/margin/unit unit-clash'],
      ['/margin/unit unit-clash'],
    ]);
  });

  it('two places on the scale still have no sum', () => {
    const sum = makeRule({
      ...rule,
      test: { kind: 'expression', expr: 'brake_fluid.wet_boiling_point >= q(160, "°C") + q(10, "°C")' },
    });
    expect(faultsOf(makeRuleSet({ rules: [sum] }))).toEqual(['/rules/0/test/expr unit-clash']);
  });
});

describe('fixFact', () => {
  const felt = { 'wheel-play.nine-three': { FL: { felt: 'felt' } }, 'wheel-play.twelve-six': { FL: { felt: 'none' } } };
  const at = (rule: Record<string, unknown>, raw: unknown) =>
    judge([makeRule(rule)], raw).findings.find(({ position }) => position === 'FL');

  it('adds what the fact says to what is to be done, where it is known', () => {
    expect(at(PLAY, felt)?.fix).toMatch(/^Put it right Play at 9 and 3 alone is in the linkage\./);
    expect(at(PLAY, { 'wheel-play.nine-three': { FL: { felt: 'none' } } })?.fix).toBe('');
    expect(at(PLAY, {})?.fix).toBe('Put it right');
  });

  it('does not change who gave the value that was judged', () => {
    const { findings } = judge([makeRule(PLAY)], felt, {
      measured: new Map([['wheel-play.twelve-six@FL#felt', 'none']]),
    });
    expect(findings.find(({ position }) => position === 'FL')?.source).toBe('declared');
  });

  it.each([
    ['unknown', { fixFact: 'wheelPlayCause' }, 'unknown-name'],
    ['not a text', { fixFact: 'tyreAge' }, 'type-clash'],
    [
      'per wheel, of a rule that runs once',
      { test: { kind: 'photo', item: 'wheel-play.nine-three', atLeast: 1 } },
      'each-mismatch',
    ],
  ])('is refused when it is %s', (_what, change, code) => {
    expect(faultsOf(makeRuleSet({ rules: [makeRule({ ...PLAY, ...change })] }))).toEqual([`/rules/0/fixFact ${code}`]);
  });
});
