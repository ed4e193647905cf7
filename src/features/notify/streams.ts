import type { ServerResponse } from 'node:http';
import { Readable } from 'node:stream';
import type { Deps } from '../../deps.ts';
import { type Actor, reachesEvent } from '../../domain/actor.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { listenTo } from '../../platform/database/listen.ts';
import { atMostEvery } from '../../platform/logger.ts';
import { endsWithin } from '../../platform/wait.ts';
import { followEvent, openFeeds } from './stream-feed.ts';
import { findHead, listWorkingTokens } from './stream-store.ts';

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
  eventId: string;
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
/** What a trigger on the tokens announces, by id: one that was revoked must not hear another word. */
const TOKENS_CHANNEL = 'gridworthy_tokens';
/** A database that does not answer must not hold up the stop. */
const CLOSE_MS = 1000;
/** Bytes that are made before the client has taken those before. */
const AHEAD_BYTES = 16_384;

/** Nothing is connected and no timer runs before the first stream is opened. */
export function openStreams(deps: Deps): Streams {
  const clients = new Set<Client>();
  const feeds = openFeeds(deps);
  const tending = tend(deps, clients);
  let stopping = false;
  const admit = (tokenId: string, eventId: string): Client => {
    if (stopping) throw new ProblemError('stopping', 'The server is draining.', {}, { 'retry-after': '5' });
    assertRoom(deps, clients, tokenId);
    const client: Client = {
      tokenId,
      eventId,
      endsAtMs: performance.now() + LONGEST_MS,
      ending: new AbortController(),
    };
    // Counted from here on, so that many that come at once cannot all be the last.
    clients.add(client);
    client.ending.signal.addEventListener('abort', () => clients.delete(client), { once: true });
    return client;
  };
  return {
    async open({ tokenId }, { eventId, lastId }, to) {
      const { ending } = admit(tokenId, eventId);
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
      await Promise.all([tending.stop(), feeds.close()]);
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

/** Ends the streams of tokens that work no longer, at once where that is announced, and those that are too old. */
function tend(deps: Deps, clients: ReadonlySet<Client>): { start(): void; stop(): Promise<void> } {
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    deps.log.warn({ error }, 'live stream: tokens cannot be checked'),
  );
  let timer: NodeJS.Timeout | undefined;
  let listener: { stop(): Promise<void> } | undefined;
  const check = async (checked: readonly Client[]) => {
    if (checked.length === 0) return;
    try {
      const tokenIds = [...new Set(checked.map(({ tokenId }) => tokenId))];
      const working = await listWorkingTokens(deps.db.pool, tokenIds, deps.clock.now());
      const works = ({ tokenId, eventId }: Client) =>
        working.has(tokenId) && reachesEvent({ eventIds: working.get(tokenId) }, eventId);
      const isOver = (client: Client) => !works(client) || performance.now() > client.endsAtMs;
      for (const client of checked.filter(isOver)) client.ending.abort();
    } catch (error) {
      report(error);
    }
  };
  let running = false;
  const checkAll = async () => {
    if (running) return;
    running = true;
    // Who comes while the database answers was checked when he came.
    await check([...clients]);
    running = false;
  };
  return {
    start() {
      timer ??= setInterval(() => void checkAll(), RECHECK_MS).unref();
      listener ??= listenTo(deps.db.pool, {
        channel: TOKENS_CHANNEL,
        name: 'gridworthy-tokens',
        log: deps.log,
        heard: (tokenId) => void check([...clients].filter((client) => client.tokenId === tokenId)),
        connected: () => void checkAll(),
      });
    },
    async stop() {
      clearInterval(timer);
      if (listener !== undefined) await endsWithin(CLOSE_MS, listener.stop());
    },
  };
}
