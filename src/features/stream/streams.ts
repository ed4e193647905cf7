import { Readable } from 'node:stream';
import type { ServerResponse } from 'node:http';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { openFeeds } from './feeds.ts';
import { followEvent } from './follow.ts';
import { findHead, listWorkingTokens } from './store.ts';
import { atMostEvery } from '../../platform/logger.ts';

/** All live streams of this process. */
export interface Streams {
  /** the text of a new stream; it ends with the response that it is written to */
  open(actor: Actor, wanted: { eventId: string; lastId: string | undefined }, to: ServerResponse): Promise<Readable>;
  /** ends them all at once and lets none begin */
  end(): void;
  close(): Promise<void>;
}

interface Client {
  tokenId: string;
  endsAtMs: number;
  ending: AbortController;
}

const RECHECK_MS = 2000;
/** A connection whose other end is gone without a word looks alive for as long: TCP repeats for about 15 minutes. */
const LONGEST_MS = 15 * 60_000;
/** For the last words to a client that takes them. */
const FAREWELL_MS = 250;
const REPORT_EVERY_MS = 60_000;
const RETRY = { 'retry-after': '15' };
/** Bytes that are made before the client has taken those before. */
const AHEAD_BYTES = 16_384;

/** Nothing is connected and no timer runs before the first stream is opened. */
export function openStreams(deps: Deps): Streams {
  const clients = new Set<Client>();
  const feeds = openFeeds(deps);
  const tending = tend(deps, clients);
  let stopping = false;
  const admit = (tokenId: string): Client => {
    if (stopping) throw new ProblemError('stopping', 'The server is draining.', {}, { 'retry-after': '5' });
    assertRoom(deps, clients, tokenId);
    const client: Client = { tokenId, endsAtMs: performance.now() + LONGEST_MS, ending: new AbortController() };
    // Counted from here on, so that many that come at once cannot all be the last.
    clients.add(client);
    client.ending.signal.addEventListener('abort', () => clients.delete(client), { once: true });
    return client;
  };
  return {
    async open({ tokenId }, { eventId, lastId }, to) {
      const { ending } = admit(tokenId);
      to.once('close', () => ending.abort());
      try {
        const head = await findHead(deps.db.pool, eventId);
        if (head === undefined) throw notFound('event');
        tending.start();
        const feed = feeds.join(eventId, head, ending.signal);
        return readable(followEvent(feed, { eventId, head, lastId, signal: ending.signal }), ending.signal);
      } catch (error) {
        ending.abort();
        throw error;
      }
    },
    end() {
      stopping = true;
      for (const { ending } of clients) ending.abort();
    },
    async close() {
      tending.stop();
      await feeds.close();
    },
  };
}

function assertRoom(deps: Deps, clients: ReadonlySet<Client>, tokenId: string): void {
  const { streamsPerToken, streamsPerProcess } = deps.config;
  if (clients.size >= streamsPerProcess) {
    throw new ProblemError('streams-full', `All ${streamsPerProcess} live streams are in use.`, {}, RETRY);
  }
  const own = [...clients].filter((client) => client.tokenId === tokenId).length;
  if (own >= streamsPerToken) {
    throw new ProblemError('too-many-streams', `This token has ${own} live streams open, the most it may.`, {}, RETRY);
  }
}

/** Ends with the text at the signal; where nobody takes the text, by force a moment later. */
function readable(text: AsyncGenerator<string>, signal: AbortSignal): Readable {
  const stream = Readable.from(text, { objectMode: false, highWaterMark: AHEAD_BYTES });
  const end = () => setTimeout(() => stream.destroy(), FAREWELL_MS).unref();
  if (signal.aborted) end();
  else signal.addEventListener('abort', end, { once: true });
  return stream;
}

/** Ends the streams of tokens that work no longer, and those that are too old. */
function tend(deps: Deps, clients: ReadonlySet<Client>): { start(): void; stop(): void } {
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    deps.log.warn({ error }, 'live stream: tokens cannot be checked'),
  );
  let timer: NodeJS.Timeout | undefined;
  let running = false;
  const check = async () => {
    // Who comes while the database answers was checked when he came.
    const checked = [...clients];
    if (running || checked.length === 0) return;
    running = true;
    try {
      const tokenIds = [...new Set(checked.map(({ tokenId }) => tokenId))];
      const working = await listWorkingTokens(deps.db.pool, tokenIds, deps.clock.now());
      const isOver = (client: Client) => !working.has(client.tokenId) || performance.now() > client.endsAtMs;
      for (const client of checked.filter(isOver)) client.ending.abort();
    } catch (error) {
      report(error);
    }
    running = false;
  };
  return {
    start() {
      timer ??= setInterval(() => void check(), RECHECK_MS).unref();
    },
    stop: () => clearInterval(timer),
  };
}
