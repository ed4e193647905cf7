import { atMostEvery } from '../../platform/logger.ts';
import { pause } from '../../platform/wait.ts';
import type { Deps } from '../../deps.ts';
import { changeMessage, type Message } from './message.ts';
import { listChanges } from './store.ts';

/** What is new in one event, read once for all who follow it. */
export interface Feed {
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
export function openFeed(deps: Deps, eventId: string, from: number): Feed {
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
      if (found.length > 0) for (const tell of waiting) tell();
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
  const told = new AbortController();
  const tell = () => told.abort();
  waiting.add(tell);
  signal.addEventListener('abort', tell, { once: true });
  if (!signal.aborted) await pause(milliseconds, told.signal);
  signal.removeEventListener('abort', tell);
  waiting.delete(tell);
}
