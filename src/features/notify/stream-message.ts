import { decideClearance } from '../../domain/clearance/decide-clearance.ts';
import type { ChangeRow } from './stream-store.ts';

/** A message as it is sent, with the number that a client resumes from. */
export interface Message {
  seq: number;
  text: string;
}

/** The browser's own pause before it connects again, milliseconds. */
const RETRY_MS = 3000;
/** Sent when nothing happens, so that proxies and clients see that the connection lives. */
export const HEARTBEAT = ':\n\n';

/**
 * A change of an entry, of a car (one message for each of its entries) or of the event, thin on purpose: what is shown is
 * read where it is shown, and nobody is named. Only the last message of a row has its number: whoever is cut off between
 * them gets the whole row again.
 */
export function changeMessage(eventId: string, row: ChangeRow, now: Date): Message {
  const { seq, action, entries } = row;
  const at = row.at.toISOString();
  if (entries.length === 0) return { seq, text: format(seq, 'event-changed', { eventId, action, at }) };
  const texts = entries.map(({ entryId, carNumber, state }, place) => {
    const { status } = decideClearance(state, now);
    const id = place === entries.length - 1 ? seq : undefined;
    return format(id, 'entry-changed', { eventId, entryId, carNumber, action, at, status });
  });
  return { seq, text: texts.join('') };
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
function format(id: number | undefined, event: string, data: object): string {
  return `${id === undefined ? '' : `id: ${id}\n`}event: ${event}\ndata: ${JSON.stringify(data)}\n\n`;
}
