import { addDays, epochMs, type Instant, type PlainDate, plainDateAt, startOfNextDay } from '../calendar.ts';
import type { Rule, RuleSet } from '../rules/model/rule-set.ts';

/** An exception to one rule for one entry, as far as it decides anything. */
export interface Concession {
  concessionId: string;
  ruleId: string;
  /** the published version it was granted for */
  ruleSetId: string;
  ruleSetVersion: number;
  /** whether it covers the rule of this id in later versions of the same rule set too */
  coversLaterVersions: boolean;
  reason: string;
  /** what is asked for in return, shown at the line and at the gate */
  condition?: string | undefined;
  /** exclusive */
  expiresAt: Instant;
  /** granted for a rule that is safety-critical: counts nothing until somebody else approved it */
  needsSecondPerson: boolean;
  approved: boolean;
  revoked: boolean;
}

export const CONCESSION_STATES = ['awaiting-approval', 'in-force', 'expired', 'revoked', 'not-covering'] as const;
export type ConcessionState = (typeof CONCESSION_STATES)[number];

/** From this many on a car needs a second look as a whole. Common practice, no source for the number. */
export const MANY_CONCESSIONS = 3;

interface Version {
  ruleSetId: string;
  ruleSetVersion: number;
}

/** The concessions that count under a version of the rules, expired ones included: not revoked, approved where needed. */
export function countingConcessions<T extends Concession>(granted: readonly T[], version: Version): T[] {
  return granted.filter((one) => !one.revoked && (one.approved || !one.needsSecondPerson) && covers(one, version));
}

function covers(concession: Concession, { ruleSetId, ruleSetVersion }: Version): boolean {
  if (concession.ruleSetId !== ruleSetId) return false;
  if (concession.ruleSetVersion === ruleSetVersion) return true;
  return concession.coversLaterVersions && concession.ruleSetVersion < ruleSetVersion;
}

/**
 * Of concessions that count under these rules those in force at `now`, for each rule the one that prevails. A rule that
 * has become safety-critical is covered only by what a second person approved.
 */
export function concessionsInForce<T extends Concession>(
  counting: readonly T[],
  rules: readonly Rule[],
  now: Date,
): T[] {
  if (counting.length === 0) return [];
  return activeConcessions(
    counting.filter((one) => one.approved || !isSafetyCritical(one.ruleId, rules)),
    now,
  );
}

function isSafetyCritical(ruleId: string, rules: readonly Rule[]): boolean {
  return rules.some((rule) => rule.id === ruleId && rule.safetyCritical === true);
}

/** Those not expired at `now`, for each rule the one that prevails. Ends are exclusive. */
export function activeConcessions<T extends { ruleId: string } & Ends>(granted: readonly T[], now: Date): T[] {
  const prevailing = new Map<string, T>();
  for (const concession of granted) {
    const other = prevailing.get(concession.ruleId);
    if (epochMs(concession.expiresAt) <= now.getTime()) continue;
    if (other === undefined || prevails(concession, other)) prevailing.set(concession.ruleId, concession);
  }
  return [...prevailing.values()];
}

interface Ends {
  expiresAt: Instant;
  condition?: string | undefined;
}

/** Whether `a` counts before `b` for one rule: the later end; of two equal ends the one that asks for something. */
export function prevails(a: Ends, b: Ends): boolean {
  const [endA, endB] = [epochMs(a.expiresAt), epochMs(b.expiresAt)];
  return endA > endB || (endA === endB && a.condition !== undefined && b.condition === undefined);
}

/** What a concession is at `now`, under the rules that judge its entry. */
export function concessionState(
  concession: Concession,
  judge: Version & { rules: readonly Rule[] },
  now: Date,
): ConcessionState {
  if (concession.revoked) return 'revoked';
  if (epochMs(concession.expiresAt) <= now.getTime()) return 'expired';
  const rule = judge.rules.find(({ id }) => id === concession.ruleId);
  if (rule === undefined || !covers(concession, judge)) return 'not-covering';
  if (concession.needsSecondPerson && !concession.approved) return 'awaiting-approval';
  return rule.safetyCritical === true && !concession.approved ? 'not-covering' : 'in-force';
}

/** How long a concession may last. `latestEnd` (exclusive) is undefined where none may be granted. */
export interface ConcessionLife {
  latestEnd: Date | undefined;
  /** why, in words that end a sentence */
  because: string;
}

/**
 * The latest end that a concession to a rule may have: so many whole days at the venue after the day it is granted, as
 * the category of the rule says; the day of grant is not counted. A rule without a category: until the last event day
 * is over.
 *
 * Counting days after the day of discovery, by category, is how minimum equipment lists of aircraft do it.
 *
 * @param at `now` the instant of the grant; `lastDay` the last day of the event
 */
export function concessionLife(
  rule: Pick<Rule, 'concession'>,
  { concessionCategories = {} }: Pick<RuleSet, 'concessionCategories'>,
  at: { now: Date; timeZone: string; lastDay: PlainDate },
): ConcessionLife {
  const { timeZone, lastDay } = at;
  const name = rule.concession;
  if (name === undefined) {
    return { latestEnd: startOfNextDay(lastDay, timeZone), because: `the event ends with ${lastDay} at the venue` };
  }
  // A category that is not there cannot be published; should it be met, nothing may be granted.
  const days = Object.hasOwn(concessionCategories, name) ? (concessionCategories[name]?.maximumDays ?? 0) : 0;
  if (days === 0) return { latestEnd: undefined, because: `the category "${name}" of the rule allows no concession` };
  const lastCovered = addDays(plainDateAt(at.now, timeZone), days);
  return {
    latestEnd: startOfNextDay(lastCovered, timeZone),
    because: `the category "${name}" of the rule allows ${days} days after the day of grant, at the venue`,
  };
}
