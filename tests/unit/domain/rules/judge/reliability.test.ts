import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { answersOf, judgeOne } from '../rules-support.ts';

const BOIL = 'brake-fluid.measured-boiling-point';
const pads = (decision: string, value: number, stage: 'declaration' | 'line' = 'declaration', measured = false) => {
  const raw = { 'pad.thickness': { 'FL.in': value } };
  const rule = {
    items: ['pad.thickness'],
    when: 'position == "FL.in"',
    test: { kind: 'limit', item: 'pad.thickness', atLeast: { value: 4, unit: 'mm' } },
    decision,
  };
  return judgeOne(rule, measured ? {} : raw, { stage, ...(measured && { measured: answersOf(raw) }) });
};

// U of a gauge in steps of 1 mm is 0.6 mm here: 2 · 0.5 / √3 = 0.577, in tenths
describe('a reading nearer to its limit than it is good', () => {
  it('is measured at the line where the rule shares the doubt or guards', () => {
    for (const decision of ['shared', 'guarded']) {
      expect(pads(decision, 4.5)).toMatchObject({
        result: 'unanswerable',
        counts: 'inspect',
        clearedBy: 'measure',
        reliability: { kind: 'too-close', uncertainty: 0.6 },
      });
      expect(pads(decision, 4.6)).toMatchObject({ result: 'met', counts: 'no' });
      expect(pads(decision, 3.9)).toMatchObject({ result: 'not-met', counts: 'bar' });
    }
  });

  it('decides where the rule decides simply, as rule sets from before do', () => {
    expect(pads('simple', 4)).toMatchObject({ result: 'met' });
  });

  it('decides at the line, unless the rule guards what the line measures', () => {
    expect(pads('shared', 4.1, 'line', true)).toMatchObject({ result: 'met', source: 'measured' });
    expect(pads('guarded', 4.1, 'line', true)).toMatchObject({ result: 'not-met', counts: 'bar' });
    expect(pads('guarded', 4.6, 'line', true)).toMatchObject({ result: 'met' });
  });

  it('says how likely the true value is inside: Φ(margin / u)', () => {
    // margin 0.3 mm, u 0.3 mm: Φ(1) = 0.841, tables of the normal distribution
    expect(pads('shared', 4.3)).toMatchObject({ reliability: { conformity: 0.841 } });
    // on the limit one half: a wrong accept in up to 50 %, ILAC-G8:09/2019 (secondary)
    expect(pads('shared', 4)).toMatchObject({ reliability: { conformity: 0.5 } });
  });

  it('never turns what is outside into a doubt, nor a doubt into a bar', () => {
    const decisions = fc.constantFrom('simple', 'shared', 'guarded');
    fc.assert(
      fc.property(decisions, fc.integer({ min: 0, max: 200 }), (decision, tenths) => {
        const { counts } = pads(decision, tenths / 10);
        expect(counts === 'bar').toBe(tenths < 40);
      }),
    );
  });

  it('holds for the inspector’s own items, too', () => {
    const rule = {
      items: [BOIL],
      test: { kind: 'limit', item: BOIL, atLeast: { value: 200, unit: '°C' } },
      decision: 'guarded',
    };
    const at = (value: number) => judgeOne(rule, {}, { stage: 'line', measured: answersOf({ [BOIL]: value }) });
    expect(at(202)).toMatchObject({ result: 'not-met' });
    expect(at(203)).toMatchObject({ result: 'met' });
  });
});

describe('a value that is hardly what was meant', () => {
  it('is a point to measure, with what it may have been', () => {
    const finding = pads('simple', 40);
    expect(finding).toMatchObject({ counts: 'inspect', clearedBy: 'measure', reliability: { kind: 'implausible' } });
    expect(finding.message).toContain('Did you mean 4 mm?');
  });

  it('counts once the line has measured it', () => {
    expect(pads('simple', 25, 'line', true)).toMatchObject({ result: 'met' });
  });

  it('keeps barring where it is outside the limit anyway', () => {
    const rule = {
      items: ['pad.thickness'],
      when: 'position == "FL.in"',
      test: { kind: 'limit', item: 'pad.thickness', atMost: { value: 30, unit: 'mm' } },
    };
    expect(judgeOne(rule, { 'pad.thickness': { 'FL.in': 40 } })).toMatchObject({ result: 'not-met', counts: 'bar' });
  });

  describe('in whatever kind of rule', () => {
    const doubt = {
      result: 'unanswerable',
      counts: 'inspect',
      clearedBy: 'measure',
      reliability: { kind: 'implausible' },
    };

    it('a calculation of it, a condition and a difference', () => {
      const each = (expr: string) => ({
        items: ['pad.thickness'],
        each: 'wheel-side',
        when: 'position == "FL.in"',
        test: { kind: 'expression', expr },
      });
      const thick = { 'pad.thickness': { 'FL.in': 40, 'FL.out': 40 } };
      // on one side compared, the other only asked
      for (const expr of ['pad.thickness >= q(4, "mm")', 'pad.thickness > q(5, "mm") || pad.thickness < q(0, "mm")']) {
        expect(judgeOne(each(expr), thick), expr).toMatchObject(doubt);
        expect(judgeOne(each(expr), { 'pad.thickness': { 'FL.in': 8 } }), expr).toMatchObject({ result: 'met' });
        expect(judgeOne(each(expr), { 'pad.thickness': { 'FL.in': 2 } }), expr).toMatchObject({ result: 'not-met' });
      }
      const spread = {
        items: ['pad.thickness'],
        when: 'position == "FL"',
        test: { kind: 'spread', item: 'pad.thickness', within: 'wheel', atMost: { value: 2, unit: 'mm' } },
      };
      expect(judgeOne(spread, thick)).toMatchObject(doubt);
      expect(judgeOne(spread, { 'pad.thickness': { 'FL.in': 8, 'FL.out': 7 } })).toMatchObject({ result: 'met' });
    });
  });
});
