import type { EventView } from '../../api/operations.ts';
import type { Session } from '../../shared/session.ts';

/** Who works at which event: given to every part of the office. */
export interface Desk {
  session: Session;
  token: string;
  event: EventView;
  eventId: string;
  timeZone: string;
  /** of the event, to be told when it was changed */
  reloadEvents(): void;
}
