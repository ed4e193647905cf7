import { describe, expect, test } from 'vitest';
import type { Finding } from '../../../../src/domain/rules/model/finding.ts';
import { barringFindings, inspectFindings, standingBars } from '../../../../src/domain/clearance/clearance.ts';

const finding = (change: Partial<Finding>): Finding => ({
  ruleId: 'pads',
  title: 'Pads',
  result: 'met',
  effect: 'bar',
  counts: 'no',
  items: ['pad.thickness'],
  basis: { kind: 'common-practice' },
  message: '',
  fix: '',
  ...change,
});
const conceded = { concessionId: 'c', expiresAt: '2026-06-13T12:00:00.000Z' };

describe('what the clearance keeps of a judgement', () => {
  test('a rule that bars at three wheels stands once', () => {
    const findings = ['FL', 'FR', 'RL'].map((position) => finding({ position, result: 'not-met', counts: 'bar' }));
    expect(standingBars(findings)).toEqual([{ ruleId: 'pads', title: 'Pads' }]);
    expect(barringFindings(findings)).toHaveLength(3);
  });

  test('a rule that a concession covers stands with the end of the concession', () => {
    const findings = [finding({ result: 'not-met', counts: 'inspect', conceded })];
    expect(standingBars(findings)).toEqual([{ ruleId: 'pads', title: 'Pads', concededUntil: conceded.expiresAt }]);
    expect(inspectFindings(findings)).toHaveLength(1);
  });

  test('what the concession asks for stands with it', () => {
    const asking = finding({ result: 'not-met', counts: 'inspect', conceded: { ...conceded, condition: 'torque' } });
    expect(standingBars([asking])).toEqual([
      { ruleId: 'pads', title: 'Pads', concededUntil: conceded.expiresAt, condition: 'torque' },
    ]);
  });

  test('a bar at one place is not covered by a concession at another, in any order', () => {
    const bar = finding({ position: 'FL', result: 'not-met', counts: 'bar' });
    const covered = finding({ position: 'FR', result: 'not-met', counts: 'inspect', conceded });
    for (const findings of [
      [bar, covered],
      [covered, bar],
    ]) {
      expect(standingBars(findings)).toEqual([{ ruleId: 'pads', title: 'Pads' }]);
    }
  });

  test('what is met, advised or only to be looked at does not stand', () => {
    expect(
      standingBars([
        finding({}),
        finding({ result: 'not-met', effect: 'advise', counts: 'advise' }),
        finding({ result: 'not-met', effect: 'inspect', counts: 'inspect' }),
        finding({ result: 'unanswerable', effect: 'bar', counts: 'inspect' }),
      ]),
    ).toEqual([]);
  });
});
