import { decideClearance } from '../../domain/clearance.ts';
import type { ChangeRow } from './store.ts';

/** A message as it is sent, with the number that a client resumes from. */
export interface Message {
  seq: number;
  text: string;
}

/** The browser's own pause before it connects again, milliseconds. */
const RETRY_MS = 3000;
/** Sent when nothing happens, so that proxies and clients see that the connection lives. */
export const HEARTBEAT = ':\n\n';

/** A change of an entry, a car or the event, thin on purpose: what is shown is read where it is shown, and nobody is named. */
export function changeMessage(eventId: string, row: ChangeRow, now: Date): Message {
  const { seq, entryId, carId, carNumber, action, facts } = row;
  const at = row.at.toISOString();
  if (entryId === null || facts === null) {
    const [event, about] = carId === null ? ['event-changed', {}] : ['car-changed', { carId }];
    return { seq, text: format(seq, event, { eventId, ...about, action, at }) };
  }
  const { status } = decideClearance(facts, now);
  return { seq, text: format(seq, 'entry-changed', { eventId, entryId, carNumber, action, at, status }) };
}

/** The first message of a client that has seen nothing yet: what it reads now is at least as new as `head`. */
export function helloMessage(eventId: string, head: number): Message {
  return { seq: head, text: `retry: ${RETRY_MS}\n${format(head, 'hello', { eventId, head })}` };
}

/** The first bytes for a client that goes on where it was. */
export const RESUMED = `retry: ${RETRY_MS}\n\n`;

/** Says that changes cannot be told one by one: read everything again. */
export function resetMessage(eventId: string, head: number, reason: 'unknown-id' | 'too-far-behind'): Message {
  return { seq: head, text: `retry: ${RETRY_MS}\n${format(head, 'reset', { eventId, head, reason })}` };
}

/** One event in the form of the HTML standard, section 9.2.5; JSON has no line breaks of its own. */
function format(id: number, event: string, data: object): string {
  return `id: ${id}\nevent: ${event}\ndata: ${JSON.stringify(data)}\n\n`;
}
