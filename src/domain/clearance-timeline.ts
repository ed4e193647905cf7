import { applyCarEvent, type CarEvent, type CarFacts, NOTHING_WRONG } from './car-facts.ts';
import { applyClearanceEvent, type ClearanceEvent, type ClearanceFacts, NOTHING_YET } from './clearance.ts';
import type { AdmissionDays, ClearanceState } from './decide-clearance.ts';

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
  steps: readonly Step<ClearanceEvent>[];
  carSteps: readonly Step<CarEvent>[];
}

/** What decided the clearance at an instant, with everything that was written at that instant. */
export function stateAt({ runGroup, days, steps, carSteps }: ClearanceTimeline, at: Date): ClearanceState {
  const facts = steps.reduce<ClearanceFacts>(
    (before, step) => (step.event === null || step.at > at ? before : applyClearanceEvent(before, step.event)),
    NOTHING_YET,
  );
  const car = carSteps.reduce<CarFacts>(
    (before, step) => (step.event === null || step.at > at ? before : applyCarEvent(before, step.event)),
    NOTHING_WRONG,
  );
  return { facts, car, runGroup, days };
}
