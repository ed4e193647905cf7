import type { ClearanceFacts } from './clearance.ts';
import type { Finding, Judgement } from '../rules/model/finding.ts';
import type { RuleSet } from '../rules/model/rule-set.ts';
import { tightenedOrAdded } from '../rules/overlay/overlay.ts';

/** What a re-judgement does to an entry. */
export type RejudgeDecision =
  | { act: 'none'; why: 'withdrawn' | 'not-declared' | 'refused' | 'signed-off' }
  | { act: 'judge-anew' }
  | { act: 'recall'; findings: readonly Finding[] };

/**
 * Decides what other rules do to an entry that was judged before. A car that was accepted stays accepted, unless a rule
 * that was tightened or added says `recall` and is not met, or not known to be met, by what was declared and measured.
 * A refusal stands; a car that nobody accepted yet is judged anew.
 *
 * @param before the rules that judged it
 * @param after the rules that judge its run group now
 * @param atLine the judgement under `after` at the line stage, with what the inspector measured
 */
export function decideRejudge(
  facts: ClearanceFacts,
  before: RuleSet,
  after: RuleSet,
  atLine: () => Judgement,
): RejudgeDecision {
  if (facts.withdrawn) return { act: 'none', why: 'withdrawn' };
  if (facts.declared === undefined) return { act: 'none', why: 'not-declared' };
  if (facts.signOff === undefined) return { act: 'judge-anew' };
  if (facts.signOff.decision === 'refuse') return { act: 'none', why: 'refused' };
  const recalling = recallingRules(before, after);
  if (recalling.size === 0) return { act: 'none', why: 'signed-off' };
  const findings = atLine().findings.filter((finding) => recalling.has(finding.ruleId) && sendsBack(finding));
  return findings.length === 0 ? { act: 'none', why: 'signed-off' } : { act: 'recall', findings };
}

/** The rules that send accepted cars back: marked `recall`, and new or stricter than before. */
export function recallingRules(before: RuleSet, after: RuleSet): Set<string> {
  const stricter = tightenedOrAdded(before, after);
  return new Set(after.rules.filter((rule) => rule.recall === true && stricter.has(rule.id)).map((rule) => rule.id));
}

function sendsBack(finding: Finding): boolean {
  return finding.conceded === undefined && (finding.counts === 'bar' || finding.counts === 'inspect');
}

/** Why a car was recalled, in one phrase: the headings of the rules. */
export function recallReason(findings: readonly Finding[], why: string): string {
  const titles = [...new Set(findings.map((finding) => finding.title))];
  const named = titles.slice(0, 3).join('; ');
  return `${titles.length > 3 ? `${named}; …` : named} (${why})`;
}
