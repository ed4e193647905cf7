/** What a rule that is not met does: keep the car off the track, make the line look, or advise. */
export const EFFECTS = ['bar', 'inspect', 'advise'] as const;
export type Effect = (typeof EFFECTS)[number];

export const RESULTS = ['met', 'not-met', 'unanswerable'] as const;
export type Result = (typeof RESULTS)[number];

export const VERDICTS = ['barred', 'to-inspect', 'clean'] as const;
export type Verdict = (typeof VERDICTS)[number];

/** Where a rule comes from: a publication that is named, or common practice without a source. */
export type Basis = { kind: 'published'; source: string } | { kind: 'common-practice'; note?: string };

/** A value as judged: a number in its unit, or a text, choice, date or yes/no as answered. */
export type Reading = { value: number; unit: string } | { value: string | boolean };

/**
 * One rule's result, at one position where the rule runs per position.
 *
 * `margin` is the distance to the limit in the unit of `limit`: positive inside, negative outside, 0 on it.
 */
export interface Finding {
  ruleId: string;
  title: string;
  /** for example `FL`; absent for a rule that judges the whole car */
  position?: string;
  result: Result;
  /** the effect the rule has, after a run group's overrides */
  effect: Effect;
  /** what it does in this judgement: see `verdict.ts` */
  counts: Counts;
  items: readonly string[];
  measured?: Reading;
  /** what was asked for, in words and numbers: `≥ 5 mm` */
  limit?: string;
  margin?: { value: number; unit: string };
  /** `declared` or, once an inspector has measured it, `measured` */
  source?: 'declared' | 'measured';
  basis: Basis;
  /** what is wrong, for the entrant; on `unanswerable` it names what is missing; empty when met */
  message: string;
  /** what to do about it; empty when met */
  fix: string;
  /** set on what a rule on watch found: it is counted and judges nobody */
  watched?: true;
  /** set when a concession covers this rule: the finding no longer bars */
  conceded?: { concessionId: string; expiresAt: string; condition?: string | undefined };
}

/** What one finding does in this judgement, after stage and concessions; `no` = nothing (it is met). */
export const COUNTS = ['bar', 'inspect', 'advise', 'no'] as const;
export type Counts = (typeof COUNTS)[number];

export interface Judgement {
  verdict: Verdict;
  findings: readonly Finding[];
}
