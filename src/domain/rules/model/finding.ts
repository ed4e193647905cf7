import { findItem } from '../../catalogue/catalogue.ts';
import type { Item, SimpleAnswerType } from '../../catalogue/item.ts';
import type { FindingHead } from '../judge/build-finding.ts';
import type { ClearedBy, Rule } from './rule-set.ts';

/**
 * A constructor of plain objects, the same as a literal would make. V8 counts how long what a literal makes lives, and
 * after a long judgement puts all of it into the old generation from then on: judging takes three times as long.
 */
function plain<Fields extends readonly unknown[], Made extends object>(
  fill: (this: Made, ...fields: Fields) => void,
): new (
  ...fields: Fields
) => Made {
  fill.prototype = Object.prototype;
  return fill as unknown as new (
    ...fields: Fields
  ) => Made; // a function with `this` is one
}

type Quantity = NonNullable<Finding['margin']>;

const PlainQuantity = plain(function (this: Quantity, value: number, unit: string) {
  this.value = value;
  this.unit = unit;
});

const PlainReading = plain(function (this: { value: string | boolean }, value: string | boolean) {
  this.value = value;
});

/** A finding; every property is set, so that all have one shape. */
export const PlainFinding = plain(function (
  this: Finding,
  head: FindingHead,
  result: Result,
  counts: Counts,
  measured: Reading | undefined,
  limit: string | undefined,
  margin: Finding['margin'],
  source: Finding['source'],
  message: string,
  fix: string,
  conceded: Finding['conceded'],
  reliability: Finding['reliability'],
  clearedBy: ClearedBy,
  facts?: Finding['facts'],
) {
  this.ruleId = head.ruleId;
  this.title = head.title;
  this.position = head.position;
  this.result = result;
  this.effect = head.effect;
  this.counts = counts;
  this.items = head.items;
  this.measured = measured;
  this.limit = limit;
  this.margin = margin;
  this.source = source;
  this.basis = head.basis;
  this.message = message;
  this.fix = fix;
  this.watched = head.watched;
  this.conceded = conceded;
  this.clearedBy = counts === 'no' ? undefined : clearedBy;
  this.reliability = reliability;
  this.facts = facts;
});

/** A number in its unit, as read or as a margin. */
export const quantity = (value: number, unit: string): Quantity => new PlainQuantity(value, unit);

/** A text, choice, date or yes/no as answered. */
export const reading = (value: string | boolean): Reading => new PlainReading(value);

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
  /** what clears it at the line; absent where it asks for nothing, and in what was judged before this was known: a look */
  clearedBy?: ClearedBy;
  /** set where the reading is nearer to the limit than it is good, or is hardly what was meant */
  reliability?: Reliability;
  /** facts of the car that it lacks, or that it rests on and nobody confirmed */
  facts?: readonly FactInDoubt[];
}

/** A fact of the car that the line finds out. */
export interface FactInDoubt {
  /** its path in the record: `rotorMinimumThicknessMm.FL` */
  path: string;
  /** `missing`: nobody said it; `unconfirmed`: nobody of the staff stands for it */
  why: 'missing' | 'unconfirmed';
}

/** Why a value inside its limit is not enough: the line takes a new one. */
export type Reliability =
  | {
      kind: 'too-close';
      /** expanded uncertainty U (k = 2) of the reading, in the unit of the margin */
      uncertainty: number;
      instrument: string;
      /** probability that the true value is inside, 0 to 1, for a normal distribution of standard deviation U/2 */
      conformity: number;
    }
  | { kind: 'implausible'; from: number; to: number };

/** What one finding does in this judgement, after stage and concessions; `no` = nothing (it is met). */
export const COUNTS = ['bar', 'inspect', 'advise', 'no'] as const;
export type Counts = (typeof COUNTS)[number];

export interface Judgement {
  verdict: Verdict;
  findings: readonly Finding[];
}

/**
 * What a finding does in a judgement. This is the only place that decides it.
 *
 * - met: nothing.
 * - not met or unanswerable: its effect; a missing answer is as bad as a bad one (fail closed).
 * - conceded: a bar becomes a look at the line; nothing else changes.
 * - not known yet: at the declaration stage a rule that lacks nothing but what the inspector answers does not bar;
 *   the line must look. At the line it counts in full.
 * - said not to apply, or not to be known, or missing in the car's record: never a pass, and no bar that nobody at the
 *   keyboard could mend; the line looks. A rule may say otherwise (`noAnswer`).
 */
export function countsAs(
  result: Result,
  effect: Effect,
  isConceded: boolean,
  stage: 'declaration' | 'line',
  /** unanswerable, and what all that is missing waits for; absent: nothing is known of it */
  awaits?: Awaits,
): Counts {
  if (result === 'met') return 'no';
  if (awaits === 'nothing') return 'no';
  if (effect !== 'bar') return effect;
  if (isConceded || awaits === 'look') return 'inspect';
  return awaits === 'inspector' && stage === 'declaration' ? 'inspect' : 'bar';
}

/**
 * What a finding without an answer waits for. `inspector`: only he answers it, so it must be known once the line has it;
 * `look`: it was said that there is no answer, or the car's record lacks something, which nobody who declares can mend;
 * `nothing`: it does not apply, and the rule says that this is enough.
 */
export type Awaits = 'inspector' | 'look' | 'nothing';

/** `barred` if a finding bars, else `to-inspect` if the line must look at one, else `clean`. */
export function verdictOf(findings: readonly Finding[]): Verdict {
  let verdict: Verdict = 'clean';
  for (const finding of findings) {
    if (finding.counts === 'bar') return 'barred';
    if (finding.counts === 'inspect') verdict = 'to-inspect';
  }
  return verdict;
}

/** How many findings there are, how many are met, and what the others do. */
export type Tally = Readonly<Record<'all' | 'met' | Exclude<Counts, 'no'>, number>>;

export function tallyOf(findings: readonly Finding[]): Tally {
  const tally = { all: findings.length, met: 0, bar: 0, inspect: 0, advise: 0 };
  for (const { result, counts } of findings) {
    if (result === 'met') tally.met += 1;
    if (counts !== 'no') tally[counts] += 1;
  }
  return tally;
}

/** Findings that say more than that all is well: what is not met, and what could not be judged, conceded or not. */
export const withoutMet = (findings: readonly Finding[]): Finding[] =>
  findings.filter(({ result }) => result !== 'met');

/**
 * Findings that cannot be left to be worked out again: what is not met or has no answer, what an exception covers, what the
 * line is to look at, and what a rule on watch found.
 */
export const thatCount = (findings: readonly Finding[]): Finding[] =>
  findings.filter(
    ({ result, counts, conceded, watched }) =>
      result !== 'met' || counts !== 'no' || conceded !== undefined || watched === true,
  );

const isNumber = (type: SimpleAnswerType): boolean => type.kind === 'number';

/** Whether the line can give a new value of an item, and the value is a number (or, of one with parts, has one). */
export function isMeasurable({ answer, answeredBy }: Item): boolean {
  if (answeredBy === 'entrant') return false;
  return answer.kind === 'fields' ? Object.values(answer.fields).some(({ type }) => isNumber(type)) : isNumber(answer);
}

/** Whether the line can give a new value of an item that is read off a label or sidewall: a date or a marking. */
export function isReadOff({ answer, answeredBy }: Item): boolean {
  return answeredBy !== 'entrant' && (answer.kind === 'date' || answer.kind === 'text');
}

function judgesNumber({ test, items }: Rule): boolean {
  if (test.kind === 'expression') return items.some(isMeasurableKey);
  const item = findItem(test.item);
  if (item === undefined || item.answeredBy === 'entrant') return false;
  const { answer } = item;
  if (answer.kind !== 'fields') return isNumber(answer);
  const part = 'field' in test && test.field !== undefined ? answer.fields[test.field] : undefined;
  return part !== undefined && isNumber(part.type);
}

function isMeasurableKey(key: string): boolean {
  const item = findItem(key);
  return item !== undefined && isMeasurable(item);
}

/** What clears a finding of the rule at the line: a tick is not a measurement. */
export function clearedByOf(rule: Rule): ClearedBy {
  return rule.clearedBy ?? (judgesNumber(rule) ? 'measure' : 'look');
}
