import type { Deps } from '../../deps.ts';
import { listenTo } from '../../platform/listen.ts';
import { endsWithin } from '../../platform/wait.ts';
import { SEALED_CHANNEL } from '../../records/seal.ts';
import { type Feed, openFeed } from './feed.ts';

/** One feed per event that somebody follows, and one connection that wakes them. */
export interface Feeds {
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
