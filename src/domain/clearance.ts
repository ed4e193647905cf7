import { prevails } from './concession.ts';
import { epochMs } from './instant.ts';
import type { Verdict } from './rules/finding.ts';

/** What the gate says about an entry. Only the first two let a car onto the track. */
export const CLEARANCE_STATUSES = [
  'clear',
  'clear-with-conditions',
  'no-declaration',
  'barred',
  'in-line',
  'refused',
  'held',
  'expired',
  'withdrawn',
] as const;
export type ClearanceStatus = (typeof CLEARANCE_STATUSES)[number];

/**
 * A rule that bars. `concededUntil` (instant, RFC 3339 UTC): until then a concession covers it; `condition` is what that
 * concession asks for.
 */
export interface StandingBar {
  ruleId: string;
  title: string;
  concededUntil?: string | undefined;
  condition?: string | undefined;
}

export interface OpenCondition {
  id: string;
  text: string;
  /** instant, RFC 3339 UTC; absent: no due time */
  dueAt?: string | undefined;
}

/** An inspector's decision. Instants: from inclusive, until exclusive; absent on a refusal. */
export interface Decided {
  signOffId: string;
  decision: 'accept' | 'accept-with-conditions' | 'refuse';
  note?: string | undefined;
  stickerNumber?: string | undefined;
  validFrom?: string | undefined;
  validUntil?: string | undefined;
}

/**
 * Everything that decides a clearance, as plain data: it is stored beside the entry and read by the gate in one row.
 * Instants are RFC 3339 in UTC. It is always the fold of what happened to the entry (`foldClearance`).
 */
export interface ClearanceFacts {
  withdrawn: boolean;
  declared?: { inspectionId: string; revision: number; verdict: Verdict; bars: readonly StandingBar[] } | undefined;
  /** why a declared entry must go through the line again, where that is not its first time */
  reinspect?: string | undefined;
  signOff?: Decided | undefined;
  conditions: readonly OpenCondition[];
  holds: readonly { holdId: string; reason: string }[];
}

/** What can happen to an entry, in the words of the history. */
export type ClearanceEvent =
  | { type: 'declared'; inspectionId: string; revision: number; verdict: Verdict; bars: readonly StandingBar[] }
  | { type: 'declaration-voided'; reason: string }
  | { type: 'recalled'; inspectionId: string; revision: number; verdict: Verdict; reason: string }
  | { type: 'conceded'; ruleId: string; until: string; condition?: string; opens?: OpenCondition }
  | { type: 'concession-revoked'; bars: readonly StandingBar[] }
  | (Decided & { type: 'signed-off'; bars: readonly StandingBar[]; conditions: readonly OpenCondition[] })
  | { type: 'condition-done'; conditionId: string }
  | { type: 'held'; holdId: string; reason: string }
  | { type: 'lifted'; holdId: string; requiresReinspection: boolean }
  | { type: 'withdrawn' };

export const NOTHING_YET: ClearanceFacts = { withdrawn: false, conditions: [], holds: [] };

/** The facts after all that happened, in order. */
export function foldClearance(events: readonly ClearanceEvent[]): ClearanceFacts {
  return events.reduce(applyClearanceEvent, NOTHING_YET);
}

/** The facts after one more event. A new declaration, and a lift that asks for it, void the sign-off before it. */
export function applyClearanceEvent(facts: ClearanceFacts, event: ClearanceEvent): ClearanceFacts {
  switch (event.type) {
    case 'declared': {
      const { type: _, ...declared } = event;
      return { ...facts, declared, reinspect: undefined, signOff: undefined, conditions: [] };
    }
    case 'declaration-voided':
      return { ...facts, declared: undefined, reinspect: event.reason, signOff: undefined, conditions: [] };
    case 'recalled': {
      // No bars stand: the line decides with what it measures, and until then the car is in line, which never admits.
      const { inspectionId, revision, verdict, reason } = event;
      const declared = { inspectionId, revision, verdict, bars: [] };
      return { ...facts, declared, reinspect: `recalled: ${reason}`, signOff: undefined, conditions: [] };
    }
    case 'conceded':
      return applyConcession(facts, event);
    case 'concession-revoked':
      return withBars(facts, event.bars);
    case 'signed-off': {
      const { type: _, bars, conditions, ...signOff } = event;
      const declared = facts.declared === undefined ? undefined : { ...facts.declared, bars };
      return { ...facts, declared, reinspect: undefined, signOff, conditions };
    }
    case 'condition-done':
      return { ...facts, conditions: facts.conditions.filter((condition) => condition.id !== event.conditionId) };
    case 'held':
      return { ...facts, holds: [...facts.holds, { holdId: event.holdId, reason: event.reason }] };
    case 'lifted':
      return applyLift(facts, event);
    case 'withdrawn':
      return { ...facts, withdrawn: true };
  }
}

function applyLift(facts: ClearanceFacts, event: { holdId: string; requiresReinspection: boolean }): ClearanceFacts {
  const lifted = facts.holds.find((hold) => hold.holdId === event.holdId);
  const rest = { ...facts, holds: facts.holds.filter((hold) => hold !== lifted) };
  if (!event.requiresReinspection) return rest;
  return { ...rest, signOff: undefined, conditions: [], reinspect: `after the hold "${lifted?.reason ?? ''}"` };
}

/** A concession never shortens another. `opens`: the condition that it puts on a car that was accepted already. */
function applyConcession(facts: ClearanceFacts, event: ClearanceEvent & { type: 'conceded' }): ClearanceFacts {
  const { ruleId, opens } = event;
  const bars = facts.declared?.bars.map((bar) =>
    bar.ruleId === ruleId && extendsBar(bar, event)
      ? { ruleId, title: bar.title, concededUntil: event.until, condition: event.condition }
      : bar,
  );
  const conceded = withBars(facts, bars ?? []);
  return opens === undefined ? conceded : { ...conceded, conditions: [...conceded.conditions, opens] };
}

/** Whether a concession counts for a bar from now on: no other does, or it prevails over the other. */
export function extendsBar(bar: StandingBar, by: { until: string; condition?: string | undefined }): boolean {
  const { concededUntil, condition } = bar;
  if (concededUntil === undefined) return true;
  return prevails({ expiresAt: by.until, condition: by.condition }, { expiresAt: concededUntil, condition });
}

function withBars(facts: ClearanceFacts, bars: readonly StandingBar[]): ClearanceFacts {
  return facts.declared === undefined ? facts : { ...facts, declared: { ...facts.declared, bars } };
}

/** The gate's answer for one entry at one instant. */
export interface ClearanceAnswer {
  admit: boolean;
  status: ClearanceStatus;
  /** one plain sentence */
  reason: string;
  /** instant until which this `admit: true` holds if nothing else happens; null when the car is not admitted */
  validUntil: string | null;
  conditions: readonly OpenCondition[];
}

/**
 * Decides what the gate says. Pure: the same facts and the same instant give the same answer.
 *
 * Fail closed: a car is admitted only by an acceptance that is in date, with no hold, no bar uncovered and no
 * condition past due. Boundaries: valid from is inclusive; valid until, due times and concession ends are exclusive.
 *
 * @param now instant of the question (UTC)
 */
export function decideClearance(facts: ClearanceFacts, now: Date): ClearanceAnswer {
  return refusal(facts, now) ?? admission(facts);
}

/** Whether a bar counts at `now`, that is, no concession covers it. */
export function barStands(bar: StandingBar, now: Date): boolean {
  return bar.concededUntil === undefined || now.getTime() >= epochMs(bar.concededUntil);
}

function refusal(facts: ClearanceFacts, now: Date): ClearanceAnswer | undefined {
  if (facts.withdrawn) return refuse(facts, 'withdrawn', 'The entry was withdrawn.');
  if (facts.holds.length > 0)
    return refuse(facts, 'held', `Held: ${listShort(facts.holds.map((hold) => hold.reason))}.`);
  if (facts.declared === undefined) return refuse(facts, 'no-declaration', undeclaredReason(facts));
  const bars = facts.declared.bars.filter((bar) => barStands(bar, now));
  if (bars.length > 0) return refuse(facts, 'barred', barredReason(bars));
  if (facts.signOff === undefined) return refuse(facts, 'in-line', inLineReason(facts));
  return signOffRefusal(facts, facts.signOff, now);
}

function signOffRefusal(facts: ClearanceFacts, signOff: Decided, now: Date): ClearanceAnswer | undefined {
  if (signOff.decision === 'refuse') {
    return refuse(
      facts,
      'refused',
      `Refused at the tech line: ${cut(signOff.note ?? 'no note was given', LIST_LENGTH)}.`,
    );
  }
  const { validFrom, validUntil } = signOff;
  // An acceptance without dates cannot exist; if one is ever read, it does not admit.
  if (validFrom === undefined || validUntil === undefined)
    return refuse(facts, 'expired', 'The sign-off has no dates.');
  if (now.getTime() < epochMs(validFrom)) return refuse(facts, 'expired', `The sign-off is valid from ${validFrom}.`);
  if (now.getTime() >= epochMs(validUntil)) return refuse(facts, 'expired', `The sign-off ended at ${validUntil}.`);
  const due = facts.conditions.find(({ dueAt }) => dueAt !== undefined && now.getTime() >= epochMs(dueAt));
  if (due !== undefined)
    return refuse(facts, 'held', `A condition is past due: ${cut(due.text, 200)} (due ${due.dueAt}).`);
  return undefined;
}

function admission(facts: ClearanceFacts): ClearanceAnswer {
  const conditions = facts.conditions;
  const status = conditions.length > 0 ? 'clear-with-conditions' : 'clear';
  const listed = conditions.map(({ text, dueAt }) => (dueAt === undefined ? text : `${text} (by ${dueAt})`));
  const conceded = (facts.declared?.bars ?? []).map(concededText);
  const reason = [
    'Signed off at the tech line',
    ...(listed.length > 0 ? [`on condition: ${listShort(listed, 130)}`] : []),
    ...(conceded.length > 0 ? [`with a concession for: ${listShort(conceded, 90)}`] : []),
  ].join(', ');
  return { admit: true, status, reason: `${reason}.`, validUntil: earliestEnd(facts), conditions };
}

function concededText({ title, concededUntil, condition }: StandingBar): string {
  return `${title} until ${concededUntil}${condition === undefined ? '' : ` (${condition})`}`;
}

function earliestEnd(facts: ClearanceFacts): string | null {
  const ends = [
    facts.signOff?.validUntil,
    ...facts.conditions.map((condition) => condition.dueAt),
    ...(facts.declared?.bars ?? []).map((bar) => bar.concededUntil),
  ].filter((end) => end !== undefined);
  return ends.reduce<string | null>((a, b) => (a === null || epochMs(b) < epochMs(a) ? b : a), null);
}

function refuse(facts: ClearanceFacts, status: ClearanceStatus, reason: string): ClearanceAnswer {
  return { admit: false, status, reason, validUntil: null, conditions: facts.conditions };
}

function undeclaredReason(facts: ClearanceFacts): string {
  if (facts.reinspect === undefined) return 'No declaration has been submitted.';
  return `The declaration no longer counts (${cut(facts.reinspect, 200)}); it must be submitted again.`;
}

/** Of a sentence at the gate, what its list may take: the whole has at most 300 characters, which a marshal can read. */
const LIST_LENGTH = 220;
/** Room for "; and 99 more". */
const MORE_LENGTH = 14;

function cut(text: string, length: number): string {
  return text.length <= length ? text : `${text.slice(0, length - 1).trimEnd()}…`;
}

/** As many parts as fit, and how many more there are; the first one at least, cut if it must be. */
function listShort(parts: readonly string[], length = LIST_LENGTH): string {
  const whole = parts.join('; ');
  if (whole.length <= length) return whole;
  const [first = '', ...others] = parts;
  let listed = cut(first, length - (others.length > 0 ? MORE_LENGTH : 0));
  let named = 1;
  for (const part of others) {
    if (listed.length + 2 + part.length > length - MORE_LENGTH) break;
    listed += `; ${part}`;
    named += 1;
  }
  return parts.length > named ? `${listed}; and ${parts.length - named} more` : listed;
}

function barredReason(bars: readonly StandingBar[]): string {
  const titles = [...new Set(bars.map((bar) => bar.title))];
  const named = titles.slice(0, 3);
  return titles.length > 3
    ? `Barred by ${titles.length} rules: ${named.map((title) => cut(title, 70)).join('; ')}; …`
    : `Barred: ${listShort(named)}.`;
}

function inLineReason(facts: ClearanceFacts): string {
  const why = facts.reinspect === undefined ? '' : ` again (${cut(facts.reinspect, LIST_LENGTH)})`;
  return `Waiting for inspection at the tech line${why}.`;
}
