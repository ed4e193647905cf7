import type { CarFacts } from './car-happenings.ts';
import {
  barStands,
  type ClearanceFacts,
  type ClearanceStatus,
  type Decided,
  type EntryHold,
  type OpenCondition,
  type StandingBar,
} from './clearance.ts';
import { epochMs } from '../calendar.ts';
import { wetTyresReason } from './wet-tyres.ts';

/** The days of an event as instants at its venue: `from` inclusive, `until` (the start of the day after the last) exclusive. */
export interface AdmissionDays {
  from: Date;
  until: Date;
  /** the event was called off at this instant: nobody is admitted from then on */
  cancelled?: { at: Date; reason: string } | undefined;
}

/** All that decides what the gate says of an entry. */
export interface ClearanceState {
  facts: ClearanceFacts;
  /** what is wrong with its car, wherever that was found */
  car: CarFacts;
  /** name of the entry's run group */
  runGroup: string;
  /** the event's days as they stand now */
  days: AdmissionDays;
  /** whether the track is said to be wet for its run group */
  wet: boolean;
}

/** The gate's answer for one entry at one instant. */
export interface ClearanceAnswer {
  admit: boolean;
  status: ClearanceStatus;
  /** one plain sentence */
  reason: string;
  /** instant until which this `admit: true` holds if nothing else happens; null when the car is not admitted */
  validUntil: string | null;
  /** of the entry, and about its car those of its other entries */
  conditions: readonly OpenCondition[];
}

/**
 * Decides what the gate says. Pure: the same state and the same instant give the same answer.
 *
 * Fail closed: a car is admitted only on a day of an event that was not cancelled, by an acceptance that is in date, with no hold on the entry
 * or the car, nothing found at another entry of the car, no bar uncovered and no condition past due, and on a wet track only
 * with tyres that are known to be fit for it. Boundaries: valid from is inclusive; valid until, due times and concession ends are exclusive.
 *
 * @param now instant of the question (UTC)
 */
export function decideClearance(state: ClearanceState, now: Date): ClearanceAnswer {
  return refusal(state, now) ?? admission(state);
}

type Refusal = { status: ClearanceStatus; reason: string };

function refusal(state: ClearanceState, now: Date): ClearanceAnswer | undefined {
  const found =
    eventRefusal(state, now) ??
    entryRefusal(state, now) ??
    carRefusal(state) ??
    dateRefusal(state, now) ??
    wetRefusal(state);
  return found && { admit: false, ...found, validUntil: null, conditions: conditionsOf(state) };
}

/** Comes before all that is said of one car: it is so for every car, and nothing that a car does ends it. */
function eventRefusal({ days: { cancelled } }: ClearanceState, now: Date): Refusal | undefined {
  // Not ">=": an instant that cannot be read is neither before nor after anything.
  if (cancelled === undefined || now.getTime() < cancelled.at.getTime()) return undefined;
  return { status: 'cancelled', reason: `The event was cancelled: ${cut(cancelled.reason, LIST_LENGTH)}.` };
}

function entryRefusal({ facts, car, runGroup }: ClearanceState, now: Date): Refusal | undefined {
  if (facts.withdrawn) return { status: 'withdrawn', reason: 'The entry was withdrawn.' };
  if (facts.holds.length + car.holds.length > 0) return { status: 'held', reason: heldReason(facts, car, runGroup) };
  if (facts.declared === undefined) return { status: 'no-declaration', reason: undeclaredReason(facts) };
  const bars = facts.declared.bars.filter((bar) => barStands(bar, now));
  if (bars.length > 0) return { status: 'barred', reason: barredReason(bars) };
  if (facts.signOff === undefined) return { status: 'in-line', reason: inLineReason(facts) };
  if (facts.signOff.decision !== 'refuse') return undefined;
  return {
    status: 'refused',
    reason: `Refused at the tech line: ${cut(facts.signOff.note ?? 'no note was given', LIST_LENGTH)}.`,
  };
}

/** What the line found at another entry of the same car. What it found at this one shows in the entry's own facts first. */
function carRefusal({ car, runGroup }: ClearanceState): Refusal | undefined {
  const refused = car.refusals[0];
  if (refused !== undefined) {
    const where = elsewhere(refused.runGroup, runGroup);
    return {
      status: 'refused',
      reason: `Refused${where} at the tech line: ${cut(refused.note ?? 'no note was given', 200)}.`,
    };
  }
  const recalled = car.recalls[0];
  if (recalled === undefined) return undefined;
  const where = elsewhere(recalled.runGroup, runGroup);
  return {
    status: 'in-line',
    reason: `Must go through the tech line again${where} (recalled: ${cut(recalled.reason, 180)}).`,
  };
}

function dateRefusal(state: ClearanceState, now: Date): Refusal | undefined {
  const outOfDate = signOffOutOfDate(state.facts.signOff, now) ?? noEventDay(state.days, now);
  if (outOfDate !== undefined) return { status: 'expired', reason: outOfDate };
  const due = conditionsOf(state).find(({ dueAt }) => dueAt !== undefined && now.getTime() >= epochMs(dueAt));
  if (due === undefined) return undefined;
  return { status: 'held', reason: `A condition is past due: ${cut(due.text, 200)} (due ${due.dueAt}).` };
}

function wetRefusal({ facts, wet }: ClearanceState): Refusal | undefined {
  const reason = wet ? wetTyresReason(facts.declared?.wet) : undefined;
  return reason === undefined ? undefined : { status: 'held', reason };
}

function signOffOutOfDate(signOff: Decided | undefined, now: Date): string | undefined {
  const { validFrom, validUntil } = signOff ?? {};
  // An acceptance without dates cannot exist; if one is ever read, it does not admit.
  if (validFrom === undefined || validUntil === undefined) return 'The sign-off has no dates.';
  if (now.getTime() < epochMs(validFrom)) return `The sign-off is valid from ${validFrom}.`;
  if (now.getTime() >= epochMs(validUntil)) return `The sign-off ended at ${validUntil}.`;
  return undefined;
}

function noEventDay({ from, until }: AdmissionDays, now: Date): string | undefined {
  if (now.getTime() < from.getTime()) return `The event begins at ${from.toISOString()}.`;
  // Not ">=": an end that cannot be read is neither before nor after anything.
  if (!(now.getTime() < until.getTime())) return `The event ended at ${until.toISOString()}.`;
  return undefined;
}

function admission(state: ClearanceState): ClearanceAnswer {
  const conditions = conditionsOf(state);
  const status = conditions.length > 0 ? 'clear-with-conditions' : 'clear';
  const listed = conditions.map(({ text, dueAt }) => (dueAt === undefined ? text : `${text} (by ${dueAt})`));
  const conceded = (state.facts.declared?.bars ?? []).map(concededText);
  const reason = [
    'Signed off at the tech line',
    ...(listed.length > 0 ? [`on condition: ${listShort(listed, 130)}`] : []),
    ...(conceded.length > 0 ? [`with a concession for: ${listShort(conceded, 90)}`] : []),
  ].join(', ');
  return { admit: true, status, reason: `${reason}.`, validUntil: earliestEnd(state), conditions };
}

/** Open conditions: the entry's own, then those about the car from its other entries, each named once. */
export function conditionsOf({ facts, car, runGroup }: ClearanceState): OpenCondition[] {
  const own = facts.conditions;
  const others = car.conditions
    .filter((one) => !own.some(({ id, text, dueAt }) => id === one.id && text === one.text && dueAt === one.dueAt))
    .map(({ id, text, dueAt, runGroup: found }) => ({
      id,
      text: found === runGroup ? text : `${found}: ${text}`,
      ...(dueAt === undefined ? {} : { dueAt }),
    }));
  return [...own, ...others];
}

function concededText({ title, concededUntil, condition }: StandingBar): string {
  return `${title} until ${concededUntil}${condition === undefined ? '' : ` (${condition})`}`;
}

function earliestEnd(state: ClearanceState): string | null {
  const ends = [
    state.facts.signOff?.validUntil,
    state.days.until.toISOString(),
    ...conditionsOf(state).map((condition) => condition.dueAt),
    ...(state.facts.declared?.bars ?? []).map((bar) => bar.concededUntil),
  ].filter((end) => end !== undefined);
  return ends.reduce<string | null>((a, b) => (a === null || epochMs(b) < epochMs(a) ? b : a), null);
}

const elsewhere = (found: string, here: string): string => (found === here ? '' : ` in ${found}`);

/** Own holds first; what was found at another entry says in which run group. */
function heldReason({ holds }: ClearanceFacts, car: CarFacts, runGroup: string): string {
  const groups = new Map<string, string[]>([['Held', holds.map(entryHoldText)]]);
  for (const hold of car.holds) {
    const where = `Held${elsewhere(hold.runGroup, runGroup)}`;
    groups.set(where, [...(groups.get(where) ?? []), hold.reason]);
  }
  const named = [...groups].filter(([, reasons]) => reasons.length > 0);
  const room = Math.floor(LIST_LENGTH / Math.max(1, named.length));
  const texts = named.map(([where, reasons]) => `${where}: ${listShort(reasons, Math.max(60, room - where.length))}.`);
  const [most, rest] = [texts.slice(0, 3), texts.length - 3];
  return rest > 0 ? `${most.join(' ')} And ${rest} more.` : most.join(' ');
}

/** How a hold on an entry reads at the gate. */
export const entryHoldText = ({ reason, driver }: EntryHold): string => (driver ? `driver, ${reason}` : reason);

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
