import type { Feed } from './feed.ts';
import { HEARTBEAT, helloMessage, RESUMED, resetMessage } from './message.ts';

const HEARTBEAT_MS = 15_000;
/** Of a client that missed more, everything is read again: that is less than to tell it. */
const MOST_BEHIND = 5000;
/** Messages in one piece: as much as a client that takes nothing can make this process keep for it. */
const PIECE = 100;

/**
 * The text of one client's stream, made as fast as the client takes it and no faster: for one that is slow nothing is
 * kept but where it stands. Ends at the signal, and when the database fails; the client resumes where it was.
 *
 * @param client `head` is the newest number at the start, `lastId` what the client says it has seen last
 */
export async function* followEvent(
  feed: Feed,
  client: { eventId: string; head: number; lastId: string | undefined; signal: AbortSignal },
): AsyncGenerator<string> {
  const { eventId, signal } = client;
  const first = beginning(client);
  let { seq } = first;
  let sentAt = performance.now();
  yield first.text;
  while (!signal.aborted) {
    const piece = await nextPiece(feed, eventId, seq);
    if (piece === undefined) return;
    const silentMs = performance.now() - sentAt;
    if (piece.text !== '' || silentMs >= HEARTBEAT_MS) {
      yield piece.text || HEARTBEAT;
      ({ seq } = piece);
      sentAt = performance.now();
    } else await feed.change(HEARTBEAT_MS - silentMs, signal);
  }
}

function beginning({ eventId, head, lastId }: { eventId: string; head: number; lastId: string | undefined }) {
  if (lastId === undefined || lastId === '') return helloMessage(eventId, head);
  const seq = /^\d{1,10}$/.test(lastId) ? Number(lastId) : Infinity;
  if (seq > head) return resetMessage(eventId, head, 'unknown-id');
  return head - seq > MOST_BEHIND ? resetMessage(eventId, head, 'too-far-behind') : { seq, text: RESUMED };
}

/** Undefined when the database cannot be read; empty text when there is nothing new. */
async function nextPiece(feed: Feed, eventId: string, seq: number): Promise<{ seq: number; text: string } | undefined> {
  if (feed.position() - seq > MOST_BEHIND) return resetMessage(eventId, feed.position(), 'too-far-behind');
  try {
    const found = (await feed.after(seq)).slice(0, PIECE);
    return { seq: found.at(-1)?.seq ?? seq, text: found.map(({ text }) => text).join('') };
  } catch {
    // The feed reports what is wrong; the client comes back and goes on where it was.
    return undefined;
  }
}
