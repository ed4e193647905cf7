import type { ClearanceFacts, ClearanceStatus } from '../domain/clearance.ts';
import type { Role } from '../domain/actor.ts';

/** What a refused caller can do instead: in words for a person, and as an operation of this API for a program. */
export interface WayOut {
  words: string;
  /** method and path, with the ids filled in where they are known */
  operation: string;
  /** who may call it */
  roles: readonly Role[];
}

const AT_THE_LINE: readonly Role[] = ['inspector', 'chief'];

/** For a car that has been through the line, or is declared and on no line. */
export function wayBackToLine(entryId: string): WayOut {
  return {
    words: 'An inspector can put it back on the line.',
    operation: `POST /v1/entries/${entryId}/back-to-line`,
    roles: [...AT_THE_LINE, 'organizer'],
  };
}

/** For a car without a declaration that counts, whatever the window says. */
export function wayToDeclareAtLine(entryId: string): WayOut {
  return {
    words: 'An inspector can declare it at the line, together with the entrant (`saidBy`).',
    operation: `POST /v1/entries/${entryId}/inspections`,
    roles: AT_THE_LINE,
  };
}

/** The way on the line for an entry that is not on it; undefined when there is none: it is out of the event. */
export function wayToLine(
  entry: { entryId: string; facts: ClearanceFacts },
  status: ClearanceStatus,
): WayOut | undefined {
  if (entry.facts.withdrawn) return undefined;
  if (entry.facts.declared === undefined || status === 'barred') return wayToDeclareAtLine(entry.entryId);
  return wayBackToLine(entry.entryId);
}
