import type { Decided } from './clearance.ts';
import type { AdmissionDays } from './decide-clearance.ts';
import { epochMs } from './instant.ts';

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
export const DAYS_TOO_FAR = 7;

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
