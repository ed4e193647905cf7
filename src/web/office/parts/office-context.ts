import { signal } from '@preact/signals';
import type { EventView } from '../../api/operations.ts';
import type { Session } from '../../shared/session.ts';
import type { Stops } from '../../shared/stops.ts';

/** What was just done, shown at the top and read aloud. */
export const said = signal('');

export function say(text: string): void {
  said.value = text;
}

/** Who works at which event: given to every part of the office. */
export interface OfficeContext {
  session: Session;
  token: string;
  event: EventView;
  eventId: string;
  timeZone: string;
  /** cars that were stopped on this device, until the server knows */
  stops: Stops;
  /** of the event, to be told when it was changed */
  reloadEvents(): void;
}
