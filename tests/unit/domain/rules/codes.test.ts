import { describe, expect, test } from 'vitest';
import { codesOf, readCodes, tallyOfCodes, toldFindings } from '../../../../src/domain/rules/model/codes.ts';
import type { FindingHead } from '../../../../src/domain/rules/judge/build-finding.ts';
import { COUNTS, type Finding, RESULTS, tallyOf, thatCount } from '../../../../src/domain/rules/model/finding.ts';

const head = (ruleId: string, position?: string): FindingHead => ({
  ruleId,
  title: `Title of ${ruleId}`,
  position,
  effect: 'bar',
  watched: undefined,
  items: ['pad.thickness'],
  basis: { kind: 'common-practice' },
  message: 'Wrong.',
  fix: 'Mend it.',
  clearedBy: 'look',
  noAnswer: undefined,
});
const finding = (at: FindingHead, more: Partial<Finding>): Finding => {
  const { ruleId, title, position, effect, items, basis } = at;
  const place = position === undefined ? {} : { position };
  return { ruleId, title, ...place, effect, items, basis, result: 'met', counts: 'no', message: '', fix: '', ...more };
};

const HEADS = [head('pads', 'FL'), head('pads', 'FR'), head('pedal'), head('fluid'), head('seat')];
const [FL, FR, PEDAL, FLUID, SEAT] = HEADS as [FindingHead, FindingHead, FindingHead, FindingHead, FindingHead];

describe('letters for findings', () => {
  // the table of the letters is ours: common practice, no source
  test.each(
    RESULTS.flatMap((result) => COUNTS.map((counts) => ({ result, counts }))).filter(
      ({ result, counts }) => result !== 'met' || counts === 'no',
    ),
  )('$result that counts $counts comes back as it was', ({ result, counts }) => {
    const findings = [finding(FR, { result, counts }), finding(SEAT, {})];
    const codes = codesOf(HEADS, findings);
    expect(codes).toHaveLength(HEADS.length);
    expect(readCodes(HEADS, codes)).toEqual(
      findings.map(({ ruleId, title, position, result: one, counts: of }) => ({
        ruleId,
        title,
        ...(position === undefined ? {} : { position }),
        result: one,
        counts: of,
      })),
    );
    expect(tallyOfCodes(codes)).toEqual(tallyOf(findings));
  });

  test('every place without a finding has one too, and other places read nothing', () => {
    const codes = codesOf(HEADS, [finding(FL, {}), finding(PEDAL, { result: 'not-met', counts: 'bar' })]);
    expect(codes).toBe('m-B--');
    expect(readCodes(HEADS.slice(1), codes)).toBeUndefined();
    expect(readCodes(HEADS, 'm-?--')).toBeUndefined();
    expect(() => codesOf(HEADS, [finding(head('unknown'), {})])).toThrow();
  });
});

describe('what counts', () => {
  test('is all but what is simply met', () => {
    const met = finding(FL, {});
    const counting = [
      finding(FR, { result: 'not-met', counts: 'advise' }),
      finding(PEDAL, { result: 'unanswerable', counts: 'no' }),
      finding(FLUID, { watched: true }),
      finding(SEAT, { conceded: { concessionId: 'c', expiresAt: '2026-06-13T12:00:00.000Z' } }),
    ];
    expect(thatCount([met, ...counting])).toEqual(counting);
  });
});

describe('what was told, with the same judged again otherwise', () => {
  const told = [
    finding(FL, { measured: { value: 8, unit: 'mm' } }),
    finding(FR, { measured: { value: 8, unit: 'mm' } }),
    finding(PEDAL, { result: 'not-met', counts: 'bar', message: 'Soft.', fix: 'Bleed it.' }),
    finding(FLUID, {}),
  ];
  const codes = readCodes(HEADS, codesOf(HEADS, told));
  const again = [
    told[0] ?? SEAT,
    finding(FR, { result: 'not-met', counts: 'bar', message: 'Thin.' }),
    finding(PEDAL, {}),
    finding(SEAT, { result: 'not-met', counts: 'bar', message: 'Loose.' }),
  ] as Finding[];

  test('counts as then; what was met is so, without its reading where it is not met any more or not judged', () => {
    const findings = toldFindings(HEADS, { codes, counting: thatCount(told) }, again);
    expect(findings.map(({ ruleId, position, result }) => [ruleId, position, result])).toEqual([
      ['pads', 'FL', 'met'],
      ['pads', 'FR', 'met'],
      ['pedal', undefined, 'not-met'],
      ['fluid', undefined, 'met'],
    ]);
    expect(findings[0]?.measured).toEqual({ value: 8, unit: 'mm' });
    expect(findings[1]?.measured).toBeUndefined();
    expect(findings[2]).toEqual(told[2]);
  });

  test('of other places than then only what counted is sure, and what is met now', () => {
    const findings = toldFindings(HEADS, { codes: undefined, counting: thatCount(told) }, again);
    expect(findings.map(({ ruleId, position, result }) => [ruleId, position, result])).toEqual([
      ['pads', 'FL', 'met'],
      ['pedal', undefined, 'not-met'],
    ]);
    const gone = toldFindings([FL], { codes: undefined, counting: thatCount(told) }, again);
    expect(gone.at(-1)).toEqual(told[2]);
  });
});
