import { describe, expect, test } from 'vitest';
import { type ClearanceFacts, NOTHING_YET } from '../../../../src/domain/clearance/clearance.ts';
import { decideRejudge, recallReason, recallingRules } from '../../../../src/domain/clearance/rejudge.ts';
import type { Finding, Judgement } from '../../../../src/domain/rules/model/finding.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import { SMALL_RULE_SET } from '../../../support/event.ts';

type Change = { padMinimum?: number; recall?: string[]; without?: string[] };

/** The small set with another pad minimum, with rules that recall, with rules left out. */
function rules({ padMinimum = 4, recall = [], without = [] }: Change = {}): RuleSet {
  const { parameters } = SMALL_RULE_SET;
  return RuleSet.parse({
    ...SMALL_RULE_SET,
    parameters: { ...parameters, padMinimum: { ...parameters.padMinimum, value: padMinimum } },
    rules: SMALL_RULE_SET.rules
      .filter((rule) => !without.includes(rule.id))
      .map((rule) => (recall.includes(rule.id) ? { ...rule, recall: true } : rule)),
  });
}

const DECLARED: ClearanceFacts = {
  ...NOTHING_YET,
  declared: { inspectionId: 'i', revision: 1, verdict: 'clean', bars: [] },
};
const accepted = (decision: 'accept' | 'accept-with-conditions' | 'refuse'): ClearanceFacts => ({
  ...DECLARED,
  signOff: { signOffId: 's', decision },
});

const finding = (change: Partial<Finding> = {}): Finding => ({
  ruleId: 'pad-thickness',
  title: 'Brake pad friction material',
  result: 'not-met',
  effect: 'bar',
  counts: 'bar',
  items: ['pad.thickness'],
  basis: { kind: 'common-practice' },
  message: 'thin',
  fix: 'new',
  ...change,
});
const judged =
  (...findings: Finding[]) =>
  (): Judgement => ({ verdict: 'barred', findings });
const RECALLING = rules({ padMinimum: 6, recall: ['pad-thickness'] });

describe('a re-judgement', () => {
  test('does nothing to a withdrawn entry, to one without a declaration, to a refusal', () => {
    const all = { before: rules(), after: RECALLING, atLine: judged(finding()) };
    const decide = (facts: ClearanceFacts) => decideRejudge(facts, all.before, all.after, all.atLine);
    expect(decide({ ...DECLARED, withdrawn: true })).toEqual({ act: 'none', why: 'withdrawn' });
    expect(decide(NOTHING_YET)).toEqual({ act: 'none', why: 'not-declared' });
    expect(decide(accepted('refuse'))).toEqual({ act: 'none', why: 'refused' });
  });

  test('judges anew what nobody has accepted', () => {
    expect(decideRejudge(DECLARED, rules(), rules({ padMinimum: 6 }), judged())).toEqual({ act: 'judge-anew' });
  });

  test('leaves an accepted car alone when the tightened rule does not say recall', () => {
    const decided = decideRejudge(accepted('accept'), rules(), rules({ padMinimum: 6 }), judged(finding()));
    expect(decided).toEqual({ act: 'none', why: 'signed-off' });
  });

  test.each(['accept', 'accept-with-conditions'] as const)(
    'recalls a car with %s when the rule says so',
    (decision) => {
      const decided = decideRejudge(accepted(decision), rules(), RECALLING, judged(finding()));
      expect(decided).toEqual({ act: 'recall', findings: [finding()] });
    },
  );

  test('recalls where nobody knows: a point the rule asks for and nobody looked at', () => {
    const unknown = finding({ result: 'unanswerable', counts: 'inspect', effect: 'inspect' });
    const decided = decideRejudge(accepted('accept'), rules(), RECALLING, judged(unknown));
    expect(decided).toMatchObject({ act: 'recall' });
  });

  test.each([
    ['met', finding({ result: 'met', counts: 'no' })],
    ['only advises', finding({ effect: 'advise', counts: 'advise' })],
    ['covered by a concession', finding({ counts: 'inspect', conceded: { concessionId: 'c', expiresAt: 'x' } })],
    ['on watch', finding({ counts: 'no', watched: true })],
    ['of another rule', finding({ ruleId: 'pedal-firm' })],
  ])('does not recall for a finding that is %s', (_, one) => {
    expect(decideRejudge(accepted('accept'), rules(), RECALLING, judged(one))).toEqual({
      act: 'none',
      why: 'signed-off',
    });
  });
});

describe('the rules that recall', () => {
  test('are those marked, and tightened or new', () => {
    const recall = ['pad-thickness', 'pedal-firm'];
    expect([...recallingRules(rules(), rules({ padMinimum: 6, recall }))]).toEqual(
      expect.arrayContaining(['pad-thickness']),
    );
    expect(recallingRules(rules({ recall }), rules({ recall })).size).toBe(0);
    expect(recallingRules(rules({ padMinimum: 6, recall }), rules({ recall })).size).toBe(0);
    expect([...recallingRules(rules({ without: ['pedal-firm'] }), rules({ recall: ['pedal-firm'] }))]).toEqual([
      'pedal-firm',
    ]);
  });
});

test('the reason names at most three rules and why', () => {
  const titled = ['A', 'B', 'B', 'C', 'D'].map((title) => finding({ title }));
  expect(recallReason(titled.slice(0, 3), 'bulletin 2')).toBe('A; B (bulletin 2)');
  expect(recallReason(titled, 'bulletin 2')).toBe('A; B; C; … (bulletin 2)');
});
