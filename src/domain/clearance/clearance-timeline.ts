import { epochMs } from '../calendar.ts';
import { applyCarHappening, type CarHappening, type CarFacts, NOTHING_WRONG } from './car-happenings.ts';
import {
  applyEntryHappening,
  type EntryHappening,
  type ClearanceFacts,
  type Decided,
  NOTHING_YET,
} from './clearance.ts';
import type { AdmissionDays, ClearanceState } from './decide-clearance.ts';
import { wetAt, type WetStep } from './wet-tyres.ts';

/** What an acceptance was given for, as it stands in the history of its entry. Instants: until exclusive. */
export interface GivenFor extends AdmissionDays {
  /** for all days that the event had; false: until an earlier end that the inspector set */
  wholeEvent: boolean;
}

/**
 * What other days of an event do to an acceptance. `follows`: it is for the new days; `keeps`: it goes on as it is;
 * `ends`: its own end comes before the new days; `line-again`: the car must be inspected again.
 */
export type DaysOutcome =
  | { outcome: 'follows' | 'keeps'; validFrom: string; validUntil: string }
  | { outcome: 'ends' }
  | { outcome: 'line-again' };

const DAY_MS = 86_400_000;
/** A shift of so many days or more, with no day in common, needs another inspection. From practice, no source. */
const DAYS_TOO_FAR = 7;

/**
 * Derives an acceptance anew from what it was given for and the event's days as they are now. Pure, and the same however
 * often and over however many changes it is asked: what it was given for never changes.
 */
export function deriveValidity(given: GivenFor, days: AdmissionDays): DaysOutcome {
  const inCommon = given.from < days.until && days.from < given.until;
  if (!inCommon && daysApart(given, days) >= DAYS_TOO_FAR) return { outcome: 'line-again' };
  const validFrom = days.from.toISOString();
  if (given.wholeEvent) return { outcome: 'follows', validFrom, validUntil: days.until.toISOString() };
  if (given.until <= days.from) return { outcome: 'ends' };
  return { outcome: 'keeps', validFrom, validUntil: given.until.toISOString() };
}

/** By how many days the first day moved, over a change of the clock too. */
const daysApart = (given: AdmissionDays, days: AdmissionDays): number =>
  Math.abs(Math.round((days.from.getTime() - given.from.getTime()) / DAY_MS));

/** Whether an acceptance has these dates already. */
export function hasDates(
  { validFrom, validUntil }: Decided,
  wanted: { validFrom: string; validUntil: string },
): boolean {
  if (validFrom === undefined || validUntil === undefined) return false;
  return epochMs(validFrom) === epochMs(wanted.validFrom) && epochMs(validUntil) === epochMs(wanted.validUntil);
}

/** A history row as far as the clearance goes; null: it meant nothing for it. */
export interface Step<Event> {
  at: Date;
  event: Event | null;
}

/**
 * What happened to an entry and to its car, each in the order of its own history. The two are put in order by time: whoever
 * writes to either holds the lock of the car while the time is read.
 */
export interface ClearanceTimeline {
  runGroup: string;
  /** the event's days as they stand now */
  days: AdmissionDays;
  steps: readonly Step<EntryHappening>[];
  carSteps: readonly Step<CarHappening>[];
  /** when the track became wet or dry for the run group, oldest first */
  wetSteps: readonly WetStep[];
}

/** What decided the clearance at an instant, with everything that was written at that instant. */
export function stateAt({ runGroup, days, steps, carSteps, wetSteps }: ClearanceTimeline, at: Date): ClearanceState {
  const facts = steps.reduce<ClearanceFacts>(
    (before, step) => (step.event === null || step.at > at ? before : applyEntryHappening(before, step.event)),
    NOTHING_YET,
  );
  const car = carSteps.reduce<CarFacts>(
    (before, step) => (step.event === null || step.at > at ? before : applyCarHappening(before, step.event)),
    NOTHING_WRONG,
  );
  return { facts, car, runGroup, days, wet: wetAt(wetSteps, at) };
}
