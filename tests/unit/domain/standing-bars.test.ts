import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Finding } from '../../../src/domain/rules/finding.ts';
import {
  activeConcessions,
  barringFindings,
  inspectFindings,
  standingBars,
} from '../../../src/domain/standing-bars.ts';

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

describe('concessions in force', () => {
  const at = (hour: number) => new Date(Date.UTC(2026, 5, 13, hour)).toISOString();
  const grant = (ruleId: string, hour: number) => ({ ruleId, expiresAt: at(hour) });

  test('end at their very instant', () => {
    const granted = [grant('pads', 12)];
    expect(activeConcessions(granted, new Date(Date.parse(at(12)) - 1))).toEqual(granted);
    expect(activeConcessions(granted, new Date(at(12)))).toEqual([]);
  });

  test('are per rule the one that lasts longest, whatever the order', () => {
    const granted = [grant('pads', 12), grant('pads', 15), grant('pads', 13), grant('seat', 9)];
    const now = new Date(at(8));
    expect(activeConcessions(granted, now)).toEqual([grant('pads', 15), grant('seat', 9)]);
    fc.assert(
      fc.property(fc.shuffledSubarray(granted, { minLength: 4 }), (shuffled) => {
        const ends = new Map(activeConcessions(shuffled, now).map((one) => [one.ruleId, one.expiresAt]));
        expect(ends).toEqual(
          new Map([
            ['pads', at(15)],
            ['seat', at(9)],
          ]),
        );
      }),
    );
  });

  test('an end that is no instant throws', () => {
    expect(() => activeConcessions([{ ruleId: 'pads', expiresAt: 'never' }], new Date(at(8)))).toThrow(RangeError);
  });
});
