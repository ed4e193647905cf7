import type { Deps } from '../../deps.ts';
import { decideClearance } from '../../domain/clearance/decide-clearance.ts';
import { listenTo } from '../../platform/database/listen.ts';
import { atMostEvery } from '../../platform/logger.ts';
import { endsWithin, pause } from '../../platform/clock.ts';
import { SEALED_CHANNEL } from '../../records/history/seal.ts';
import { type ChangeRow, listChanges } from './publish-store.ts';

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

/** One feed per event that somebody follows, and one connection that wakes them. */
interface Feeds {
  /** the feed of an event, until the signal; `head` is a number of its history, read just now */
  join(eventId: string, head: number, signal: AbortSignal): Feed;
  close(): Promise<void>;
}

/** A database that does not answer must not hold up the stop. */
const CLOSE_MS = 1000;

/** Connects at the first follower; without followers nothing is read. */
export function openFeeds(deps: Deps): Feeds {
  const open = new Map<string, { feed: Feed; followers: number }>();
  let listener: { stop(): Promise<void> } | undefined;
  const listen = () =>
    listenTo(deps.db.pool, {
      channel: SEALED_CHANNEL,
      log: deps.log,
      heard: (eventId) => open.get(eventId)?.feed.wake(),
      connected: () => open.forEach(({ feed }) => feed.wake()),
    });
  const leave = (eventId: string) => {
    const one = open.get(eventId);
    if (one === undefined) return;
    one.followers -= 1;
    if (one.followers > 0) return;
    one.feed.stop();
    open.delete(eventId);
  };
  return {
    join(eventId, head, signal) {
      listener ??= listen();
      const one = open.get(eventId) ?? { feed: openFeed(deps, eventId, head), followers: 0 };
      one.followers += 1;
      open.set(eventId, one);
      if (signal.aborted) leave(eventId);
      else signal.addEventListener('abort', () => leave(eventId), { once: true });
      return one.feed;
    },
    async close() {
      for (const { feed } of open.values()) feed.stop();
      if (listener !== undefined) await endsWithin(CLOSE_MS, listener.stop());
    },
  };
}

/** What is new in one event, read once for all who follow it. */
interface Feed {
  /** number of the newest row that was read */
  position(): number;
  /** messages after a number, oldest first: from memory when it holds them, else from the database */
  after(seq: number): readonly Message[] | Promise<readonly Message[]>;
  /** waits for something new, at most so long, or until the signal */
  change(milliseconds: number, signal: AbortSignal): Promise<void>;
  /** something was sealed: look at once */
  wake(): void;
  stop(): void;
}

const POLL_MS = 2000;
/** Rows that are sealed one after the other are read together. */
const GATHER_MS = 20;
const BATCH = 500;
/** Kept in memory for whoever is a little behind, about 300 bytes each. */
const KEPT = 1000;
const REPORT_EVERY_MS = 60_000;

/**
 * Follows the history of an event from a number on, woken by what is sealed and by looking every two seconds.
 *
 * @param from number of the last row that nobody needs to be told of
 */
function openFeed(deps: Deps, eventId: string, from: number): Feed {
  const stopping = new AbortController();
  const waiting = new Set<() => void>();
  let bell = new AbortController();
  let recent: Message[] = [];
  let position = from;
  const read = async (after: number): Promise<Message[]> => {
    const rows = await listChanges(deps.db.pool, { eventId, after, limit: BATCH });
    const now = deps.clock.now();
    return rows.map((row) => changeMessage(eventId, row, now));
  };
  const look = async (): Promise<void> => {
    for (;;) {
      const found = await read(position);
      position = found.at(-1)?.seq ?? position;
      recent = [...recent, ...found].slice(-KEPT);
      if (found.length > 0) for (const wake of waiting) wake();
      if (found.length < BATCH) return;
    }
  };
  void follow(deps, look, {
    signal: stopping.signal,
    async rung() {
      await pause(POLL_MS, bell.signal);
      await pause(GATHER_MS, stopping.signal);
      bell = new AbortController();
    },
  });
  return {
    position: () => position,
    after(seq) {
      if (seq >= position) return [];
      const first = recent[0]?.seq ?? position + 1;
      return seq >= first - 1 ? recent.slice(seq - first + 1) : read(seq);
    },
    change: (milliseconds, signal) => waitIn(waiting, milliseconds, signal),
    wake: () => bell.abort(),
    stop() {
      stopping.abort();
      bell.abort();
    },
  };
}

async function follow(
  deps: Deps,
  look: () => Promise<void>,
  { signal, rung }: { signal: AbortSignal; rung(): Promise<void> },
): Promise<void> {
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    deps.log.warn({ error }, 'live stream: the history cannot be read'),
  );
  while (!signal.aborted) {
    // Nothing is lost: the position stays, and the next look begins there.
    await look().catch(report);
    await rung();
  }
}

/** A set and not a promise: what many wait for long would otherwise keep a reaction of each of their waits. */
async function waitIn(waiting: Set<() => void>, milliseconds: number, signal: AbortSignal): Promise<void> {
  const woken = new AbortController();
  const wake = () => woken.abort();
  waiting.add(wake);
  signal.addEventListener('abort', wake, { once: true });
  if (!signal.aborted) await pause(milliseconds, woken.signal);
  signal.removeEventListener('abort', wake);
  waiting.delete(wake);
}

/** A message as it is sent, with the number that a client resumes from. */
interface Message {
  seq: number;
  text: string;
}

/** The browser's own pause before it connects again, milliseconds. */
const RETRY_MS = 3000;
/** Sent when nothing happens, so that proxies and clients see that the connection lives. */
const HEARTBEAT = ':\n\n';

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
const RESUMED = `retry: ${RETRY_MS}\n\n`;

/** Says that changes cannot be told one by one: read everything again. */
function resetMessage(eventId: string, head: number, reason: 'unknown-id' | 'too-far-behind'): Message {
  return { seq: head, text: `retry: ${RETRY_MS}\n${format(head, 'reset', { eventId, head, reason })}` };
}

/** One event in the form of the HTML standard, section 9.2.5; JSON has no line breaks of its own. */
function format(id: number | undefined, event: string, data: object): string {
  return `${id === undefined ? '' : `id: ${id}\n`}event: ${event}\ndata: ${JSON.stringify(data)}\n\n`;
}
