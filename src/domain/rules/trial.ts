import type { Counts, Finding, Judgement, Reading, Result, Verdict } from './finding.ts';

/** As much of a stored finding as a comparison needs; the rest may be looked up for the few that changed. */
export type StoredFinding = Pick<Finding, 'ruleId' | 'title' | 'position' | 'result' | 'counts'> &
  Partial<Pick<Finding, 'measured' | 'limit' | 'margin' | 'message'>>;

/** A judgement as it is stored. */
export interface StoredJudgement {
  verdict: Verdict;
  findings: readonly StoredFinding[];
}

/** What one side of a comparison says of a rule at one position. Units as in `Finding`. */
export interface FindingSide {
  result: Result;
  counts: Counts;
  measured?: Reading;
  limit?: string;
  margin?: { value: number; unit: string };
  /** absent where it was not read */
  message?: string;
}

/** A rule, at one position where it runs per position, that comes out otherwise. A side is absent where it gives no finding. */
export interface RuleChange {
  ruleId: string;
  title: string;
  position?: string;
  before?: FindingSide;
  after?: FindingSide;
}

/** One declaration under two rule sets. */
export interface Comparison {
  before: Verdict;
  after: Verdict;
  flipped: boolean;
  /** the changes that alone explain the flip; empty when the verdict stays */
  because: readonly RuleChange[];
  /** whatever has another result, or counts otherwise, in the order of the rules after; what is gone comes last */
  changes: readonly RuleChange[];
}

const RANK: Readonly<Record<Counts, number>> = { no: 0, advise: 0, inspect: 1, bar: 2 };
const VERDICT_RANK: Readonly<Record<Verdict, number>> = { clean: 0, 'to-inspect': 1, barred: 2 };

const keyOf = (finding: StoredFinding): string => `${finding.ruleId}@${finding.position ?? ''}`;

/** One side of a change, from a finding. */
export function sideOf(finding: StoredFinding): FindingSide {
  const { result, counts, measured, limit, margin, message } = finding;
  return {
    result,
    counts,
    ...(measured === undefined ? {} : { measured }),
    ...(limit === undefined ? {} : { limit }),
    ...(margin === undefined ? {} : { margin }),
    ...(message === undefined ? {} : { message }),
  };
}

function note(changes: RuleChange[], before: StoredFinding | undefined, after: StoredFinding | undefined): void {
  const named = after ?? before;
  if (named === undefined || (before?.result === after?.result && before?.counts === after?.counts)) return;
  changes.push({
    ruleId: named.ruleId,
    title: named.title,
    ...(named.position === undefined ? {} : { position: named.position }),
    ...(before === undefined ? {} : { before: sideOf(before) }),
    ...(after === undefined ? {} : { after: sideOf(after) }),
  });
}

const isSamePlace = (a: StoredFinding, b: StoredFinding): boolean =>
  a.ruleId === b.ruleId && (a.position ?? '') === (b.position ?? '');

function listChanges(before: readonly StoredFinding[], after: readonly Finding[]): RuleChange[] {
  const changes: RuleChange[] = [];
  // Both sides are mostly the same rules in the same order, and names are only needed where they are not.
  let same = 0;
  for (const finding of after) {
    const was = before[same];
    if (was === undefined || !isSamePlace(was, finding)) break;
    note(changes, was, finding);
    same += 1;
  }
  const left = new Map(before.slice(same).map((finding) => [keyOf(finding), finding]));
  for (const finding of after.slice(same)) {
    const key = keyOf(finding);
    note(changes, left.get(key), finding);
    left.delete(key);
  }
  for (const finding of left.values()) note(changes, finding, undefined);
  return changes;
}

const rankOf = (side: FindingSide | undefined): number => (side === undefined ? 0 : RANK[side.counts]);

/** A rule explains a worse verdict when it counts for more than the old one, a better when it counted for more than the new. */
function explains(change: RuleChange, before: Verdict, after: Verdict): boolean {
  const [was, is] = [VERDICT_RANK[before], VERDICT_RANK[after]];
  return is > was ? rankOf(change.after) > was : rankOf(change.before) > is;
}

/**
 * Compares two judgements of one declaration, rule by rule and position by position. Rules are the same by their id.
 *
 * @returns whether the verdict flips and by which rules; a flip always has at least one
 */
export function compareJudgements(before: StoredJudgement, after: Judgement): Comparison {
  const changes = listChanges(before.findings, after.findings);
  const flipped = before.verdict !== after.verdict;
  const because = flipped ? changes.filter((change) => explains(change, before.verdict, after.verdict)) : [];
  return { before: before.verdict, after: after.verdict, flipped, because, changes };
}
