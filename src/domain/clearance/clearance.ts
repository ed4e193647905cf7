import { epochMs } from '../calendar.ts';
import { prevails } from './concession.ts';
import type { Finding, Verdict } from '../rules/model/finding.ts';
import { type MovedCondition, withMoved } from '../log/condition-due.ts';
import type { LastSafe } from '../prepare/wear-outlook.ts';
import type { TorqueRecheck } from '../log/session-log.ts';
import type { WetTyres } from './wet-tyres.ts';

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
  'cancelled',
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
  /** it asks for the wheel torque after a session, which a log entry of the entrant can settle */
  recheck?: TorqueRecheck | undefined;
}

/** An inspector's decision. Instants: from inclusive, until exclusive; absent on a refusal. */
export interface Decided {
  signOffId: string;
  decision: 'accept' | 'accept-with-conditions' | 'refuse';
  note?: string | undefined;
  stickerNumber?: string | undefined;
  /** the worn part that ends first, before the event does, by what was known then; absent: none, or not known */
  lastSafe?: LastSafe | undefined;
  validFrom?: string | undefined;
  validUntil?: string | undefined;
}

/**
 * What an entry itself brings to its clearance, as plain data: it is stored beside the entry and read by the gate in one
 * row, with the car's own facts (`CarFacts`). Instants are RFC 3339 in UTC. It is always the fold of what happened to the
 * entry (`foldClearance`).
 */
export interface ClearanceFacts {
  withdrawn: boolean;
  declared?: Declared | undefined;
  /** why a declared entry must go through the line again, where that is not its first time */
  reinspect?: string | undefined;
  signOff?: Decided | undefined;
  conditions: readonly OpenCondition[];
  /** holds about this entry or its driver; those about the car stand at the car (`CarFacts`) */
  holds: readonly EntryHold[];
}

/** A declaration as it was judged. `wet`: the tyres, by what was last declared or measured; absent: not known. */
export interface Declared {
  inspectionId: string;
  revision: number;
  verdict: Verdict;
  bars: readonly StandingBar[];
  wet?: WetTyres | undefined;
}

/** `driver`: the hold is about a person on the entry, who is named beside the history; absent: about the entry. */
export interface EntryHold {
  holdId: string;
  reason: string;
  driver?: true | undefined;
}

/** What can happen to an entry, in the words of the history. */
export type EntryHappening =
  | (Declared & { type: 'declared' })
  | { type: 'declaration-voided'; reason: string }
  | { type: 'recalled'; inspectionId: string; revision: number; verdict: Verdict; reason: string }
  | { type: 'conceded'; ruleId: string; until: string; condition?: string; opens?: OpenCondition }
  | { type: 'concession-revoked'; bars: readonly StandingBar[] }
  | (Decided & {
      type: 'signed-off';
      bars: readonly StandingBar[];
      conditions: readonly OpenCondition[];
      wet?: WetTyres | undefined;
    })
  | { type: 'condition-done'; conditionId: string }
  | { type: 'conditions-moved'; conditions: readonly MovedCondition[] }
  | { type: 'tread-measured'; wet?: WetTyres | undefined }
  | (EntryHold & { type: 'held' })
  | { type: 'lifted'; holdId: string; requiresReinspection: boolean }
  | { type: 'sent-back'; reason: string }
  | { type: 'validity-changed'; signOffId: string; validFrom: string; validUntil: string; reason: string }
  | { type: 'withdrawn' };

export const NOTHING_YET: ClearanceFacts = { withdrawn: false, conditions: [], holds: [] };

/** The facts after all that happened, in order. */
export function foldClearance(events: readonly EntryHappening[]): ClearanceFacts {
  return events.reduce(applyEntryHappening, NOTHING_YET);
}

/**
 * The facts after one more event. A new declaration, and whatever sends the car through the line again, void the sign-off
 * before it.
 */
export function applyEntryHappening(facts: ClearanceFacts, event: EntryHappening): ClearanceFacts {
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
      const { type: _, bars, conditions, wet, ...signOff } = event;
      const declared = facts.declared === undefined ? undefined : { ...facts.declared, bars, wet };
      return { ...facts, declared, reinspect: undefined, signOff, conditions };
    }
    case 'condition-done':
      return { ...facts, conditions: facts.conditions.filter((condition) => condition.id !== event.conditionId) };
    case 'conditions-moved':
      return { ...facts, conditions: withMoved(facts.conditions, event.conditions) };
    case 'tread-measured':
      return facts.declared === undefined ? facts : { ...facts, declared: { ...facts.declared, wet: event.wet } };
    case 'held': {
      const { type: _, ...hold } = event;
      return { ...facts, holds: [...facts.holds, hold] };
    }
    case 'lifted':
      return applyLift(facts, event);
    case 'sent-back':
      return { ...facts, reinspect: event.reason, signOff: undefined, conditions: [] };
    case 'validity-changed':
      return applyValidity(facts, event);
    case 'withdrawn':
      return { ...facts, withdrawn: true };
  }
}

/** Other dates of the acceptance that stands; nothing when it is another one by now, or none. */
function applyValidity(facts: ClearanceFacts, event: EntryHappening & { type: 'validity-changed' }): ClearanceFacts {
  const { signOff } = facts;
  if (signOff === undefined || signOff.signOffId !== event.signOffId || signOff.decision === 'refuse') return facts;
  return { ...facts, signOff: { ...signOff, validFrom: event.validFrom, validUntil: event.validUntil } };
}

function applyLift(facts: ClearanceFacts, event: { holdId: string; requiresReinspection: boolean }): ClearanceFacts {
  const lifted = facts.holds.find((hold) => hold.holdId === event.holdId);
  const rest = { ...facts, holds: facts.holds.filter((hold) => hold !== lifted) };
  if (!event.requiresReinspection) return rest;
  return { ...rest, signOff: undefined, conditions: [], reinspect: `after the hold "${lifted?.reason ?? ''}"` };
}

/** A concession never shortens another. `opens`: the condition that it puts on a car that was accepted already. */
function applyConcession(facts: ClearanceFacts, event: EntryHappening & { type: 'conceded' }): ClearanceFacts {
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

/** Whether a bar counts at `now`, that is, no concession covers it. */
export function barStands(bar: StandingBar, now: Date): boolean {
  return bar.concededUntil === undefined || now.getTime() >= epochMs(bar.concededUntil);
}

/** The findings that keep a car off the track in this judgement. */
export function barringFindings(findings: readonly Finding[]): Finding[] {
  return findings.filter((finding) => finding.counts === 'bar');
}

/** The findings for which the line must look. */
export function inspectFindings(findings: readonly Finding[]): Finding[] {
  return findings.filter((finding) => finding.counts === 'inspect');
}

/**
 * What the clearance keeps of a judgement: each rule that bars once, and each that a concession covers with the end of
 * that concession and what it asks for, so that the bar is back at that second.
 */
export function standingBars(findings: readonly Finding[]): StandingBar[] {
  const bars = new Map<string, StandingBar>();
  for (const finding of findings) {
    if (finding.counts === 'bar') bars.set(finding.ruleId, { ruleId: finding.ruleId, title: finding.title });
    else if (finding.effect === 'bar' && finding.result !== 'met' && finding.conceded && !finding.watched) {
      const { expiresAt: concededUntil, condition } = finding.conceded;
      const bar = { ruleId: finding.ruleId, title: finding.title, concededUntil };
      if (!bars.has(finding.ruleId)) bars.set(finding.ruleId, condition === undefined ? bar : { ...bar, condition });
    }
  }
  return [...bars.values()];
}
