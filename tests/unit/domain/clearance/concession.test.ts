import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  activeConcessions,
  type Concession,
  concessionLife,
  concessionsInForce,
  type ConcessionState,
  concessionState,
  countingConcessions,
} from '../../../../src/domain/clearance/concession.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import { SMALL_RULE_SET } from '../../../support/event.ts';

const at = (hour: number) => new Date(Date.UTC(2026, 5, 13, hour)).toISOString();
const concession = (change: Partial<Concession> = {}): Concession => ({
  concessionId: 'c',
  ruleId: 'pad-thickness',
  ruleSetId: 'set',
  ruleSetVersion: 3,
  coversLaterVersions: false,
  reason: 'spare set',
  expiresAt: at(12),
  needsSecondPerson: false,
  approved: false,
  revoked: false,
  ...change,
});
const version = (ruleSetVersion: number, ruleSetId = 'set') => ({ ruleSetId, ruleSetVersion });
const ids = (some: readonly Concession[]) => some.map((one) => one.concessionId);

const rulesWith = (change: object) =>
  RuleSet.parse({
    ...SMALL_RULE_SET,
    rules: SMALL_RULE_SET.rules.map((rule) => (rule.id === 'pad-thickness' ? { ...rule, ...change } : rule)),
  }).rules;
const RULES = rulesWith({});
const CRITICAL = rulesWith({ safetyCritical: true });

describe('concessions that count', () => {
  test('are those for this version, and earlier ones that say so, never for another set or an earlier version', () => {
    const granted = [
      concession({ concessionId: 'this' }),
      concession({ concessionId: 'this and later', coversLaterVersions: true }),
    ];
    expect(ids(countingConcessions(granted, version(3)))).toEqual(['this', 'this and later']);
    expect(ids(countingConcessions(granted, version(4)))).toEqual(['this and later']);
    expect(ids(countingConcessions(granted, version(2)))).toEqual([]);
    expect(ids(countingConcessions(granted, version(3, 'other')))).toEqual([]);
    expect(ids(countingConcessions(granted, version(4, 'other')))).toEqual([]);
  });

  test('are approved where that is needed, and not revoked', () => {
    const granted = [
      concession({ concessionId: 'waits', needsSecondPerson: true }),
      concession({ concessionId: 'approved', needsSecondPerson: true, approved: true }),
      concession({ concessionId: 'revoked', revoked: true }),
      concession({ concessionId: 'both', needsSecondPerson: true, approved: true, revoked: true }),
    ];
    expect(ids(countingConcessions(granted, version(3)))).toEqual(['approved']);
  });

  test('do not cover a rule that has become safety-critical unless a second person approved them', () => {
    const granted = [concession({ concessionId: 'one person' }), concession({ concessionId: 'two', approved: true })];
    const now = new Date(at(8));
    expect(ids(concessionsInForce(granted.slice(0, 1), RULES, now))).toEqual(['one person']);
    expect(ids(concessionsInForce(granted.slice(0, 1), CRITICAL, now))).toEqual([]);
    expect(ids(concessionsInForce(granted, CRITICAL, now))).toEqual(['two']);
  });
});

describe('concessions in force', () => {
  const grant = (ruleId: string, hour: number) => ({ ruleId, expiresAt: at(hour) });

  test('end at their very instant', () => {
    const granted = [grant('pads', 12)];
    expect(activeConcessions(granted, new Date(Date.parse(at(12)) - 1))).toEqual(granted);
    expect(activeConcessions(granted, new Date(at(12)))).toEqual([]);
  });

  test('are per rule the one that lasts longest, whatever the order; of equal ends the one that asks for something', () => {
    const asking = { ...grant('pads', 15), condition: 'look again' };
    const granted = [grant('pads', 12), grant('pads', 15), asking, grant('pads', 13), grant('seat', 9)];
    const now = new Date(at(8));
    fc.assert(
      fc.property(fc.shuffledSubarray(granted, { minLength: granted.length }), (shuffled) => {
        const active = activeConcessions(shuffled, now);
        expect(new Map(active.map((one) => [one.ruleId, one]))).toEqual(
          new Map<string, object>([
            ['pads', asking],
            ['seat', grant('seat', 9)],
          ]),
        );
      }),
    );
  });

  test('an end that is no instant throws', () => {
    expect(() => activeConcessions([{ ruleId: 'pads', expiresAt: 'never' }], new Date(at(8)))).toThrow(RangeError);
  });
});

test.each<[string, Partial<Concession>, { rules?: typeof RULES; version?: number; hour?: number }, ConcessionState]>([
  ['in date and covering', {}, {}, 'in-force'],
  ['at its end', {}, { hour: 12 }, 'expired'],
  ['revoked, also after its end', { revoked: true }, { hour: 12 }, 'revoked'],
  ['of an earlier version', {}, { version: 4 }, 'not-covering'],
  ['of an earlier version that says so', { coversLaterVersions: true }, { version: 4 }, 'in-force'],
  ['of a rule that is no more', { ruleId: 'gone' }, {}, 'not-covering'],
  ['without its second person', { needsSecondPerson: true }, { rules: CRITICAL }, 'awaiting-approval'],
  ['with its second person', { needsSecondPerson: true, approved: true }, { rules: CRITICAL }, 'in-force'],
  ['of a rule that has become critical', {}, { rules: CRITICAL }, 'not-covering'],
])('a concession %s is %s', (_what, change, { rules = RULES, version: ruleSetVersion = 3, hour = 8 }, state) => {
  const judge = { ...version(ruleSetVersion), rules };
  expect(concessionState(concession(change), judge, new Date(at(hour)))).toBe(state);
});

describe('the latest end', () => {
  // HKAR-MMEL/MEL section 2, rectification intervals: category B three, category C ten consecutive calendar days,
  // excluding the day of discovery.
  const concessionCategories = {
    b: { maximumDays: 3, meaning: 'three days' },
    c: { maximumDays: 10, meaning: 'ten days' },
    never: { maximumDays: 0, meaning: 'none' },
  };
  const life = (category: string | undefined, now: string, timeZone = 'UTC') =>
    concessionLife(
      { concession: category },
      { concessionCategories },
      { now: new Date(now), timeZone, lastDay: '2026-06-14' },
    );
  const endOf = (...of: Parameters<typeof life>) => life(...of).latestEnd?.toISOString();

  test('is so many whole days after the day of grant, whatever the hour of the grant', () => {
    for (const hour of ['00:00:00.000', '10:00:00.000', '23:59:59.999']) {
      expect(endOf('b', `2026-01-26T${hour}Z`)).toBe('2026-01-30T00:00:00.000Z');
      expect(endOf('c', `2026-01-26T${hour}Z`)).toBe('2026-02-06T00:00:00.000Z');
    }
  });

  test('is counted in days at the venue', () => {
    // 23:30 UTC is already the 27th in Berlin (UTC+1) and still the 26th in New York (UTC-5).
    expect(endOf('b', '2026-01-26T23:30:00Z', 'Europe/Berlin')).toBe('2026-01-30T23:00:00.000Z');
    expect(endOf('b', '2026-01-26T23:30:00Z', 'America/New_York')).toBe('2026-01-30T05:00:00.000Z');
    // The clocks of Berlin go forward on 29 March 2026 (EU Directive 2000/84/EC: last Sunday in March).
    expect(endOf('b', '2026-03-27T12:00:00Z', 'Europe/Berlin')).toBe('2026-03-30T22:00:00.000Z');
  });

  test('is the end of the last event day for a rule without a category', () => {
    expect(endOf(undefined, '2026-06-10T08:00:00Z', 'Europe/Berlin')).toBe('2026-06-14T22:00:00.000Z');
  });

  test('is none where the category allows none, or is not known', () => {
    expect(life('never', '2026-06-10T08:00:00Z')).toMatchObject({ latestEnd: undefined });
    expect(life('other', '2026-06-10T08:00:00Z')).toMatchObject({ latestEnd: undefined });
    expect(life('constructor', '2026-06-10T08:00:00Z')).toMatchObject({ latestEnd: undefined });
    expect(
      concessionLife({ concession: 'b' }, {}, { now: new Date(at(8)), timeZone: 'UTC', lastDay: '2026-06-14' }),
    ).toMatchObject({ latestEnd: undefined });
  });
});
