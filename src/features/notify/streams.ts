import type { FastifyInstance } from 'fastify';
import type { ServerResponse } from 'node:http';
import { Readable } from 'node:stream';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Actor, reachesEvent, STAFF } from '../../domain/actor.ts';
import { NOTHING_WRONG } from '../../domain/clearance/car-happenings.ts';
import { eventParams } from '../../http/frame/common-schemas.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { listenTo } from '../../platform/database/listen.ts';
import { atMostEvery } from '../../platform/logger.ts';
import { endsWithin } from '../../platform/clock.ts';
import { changeMessage, followEvent, helloMessage, openFeeds } from './stream-feed.ts';
import { findHead, listWorkingTokens } from './publish-store.ts';

/** All live streams of this process. */
interface Streams {
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
function openStreams(deps: Deps): Streams {
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

const StreamHeaders = z.looseObject({
  'last-event-id': z.string().optional().describe('`id` of the last message you have; absent: begin with what is new'),
});

const EventStream = z.string().describe('Server-sent events (HTML standard, section 9.2)').meta({ id: 'EventStream' });

const HEADERS = {
  'content-type': 'text/event-stream; charset=utf-8',
  // A proxy that gathers or compresses would keep back what is new.
  'cache-control': 'no-store, no-transform',
  'x-accel-buffering': 'no',
};

const EXAMPLE_EVENT = '019ab8f0-0000-7000-8000-0000000000d1';
const EXAMPLE =
  helloMessage(EXAMPLE_EVENT, 411).text +
  changeMessage(
    EXAMPLE_EVENT,
    {
      seq: 412,
      action: 'hold.placed',
      at: new Date('2026-06-13T08:12:00.000Z'),
      entries: [
        {
          entryId: '019ab8f0-0000-7000-8000-0000000000e1',
          carNumber: '42',
          state: {
            facts: {
              withdrawn: false,
              holds: [{ holdId: '019ab8f0-0000-7000-8000-0000000000b1', reason: 'leak' }],
              conditions: [],
            },
            car: NOTHING_WRONG,
            runGroup: 'Novice',
            days: { from: new Date('2026-06-12T22:00:00.000Z'), until: new Date('2026-06-14T22:00:00.000Z') },
            wet: false,
          },
        },
      ],
    },
    new Date('2026-06-13T08:12:00.000Z'),
  ).text;

const DESCRIPTION = `One message for every row of the event's history, in the order in which the rows were sealed, a moment
after their commit (the rows of one entry in their own order): declarations, claims and their ends, sign-offs, holds, lifts, conditions, concessions, withdrawals, changes of entries.
Messages say which car to read again and nobody's name: \`entry-changed\` has \`eventId\`, \`entryId\`, \`carNumber\`, \`action\`
(as in the history), \`at\`, and \`status\` (what the gate says now). What is said of a car comes once for each of its
entries, only the last with an \`id\`; what is said of the event comes as \`event-changed\`,
except that a track became wet or dry: that comes as \`entry-changed\` for each entry of the run group. Line and readiness have no
messages of their own: read them again when a car changes.

The first message is \`hello\` with \`head\`: what you read after it is at least as new as that. Send the \`id\` of the last
message as \`Last-Event-ID\` and you get what came after it, each once. \`reset\` with \`head\` instead means that this cannot
be done (\`reason\`: \`unknown-id\`, \`too-far-behind\`): read everything again. A comment comes every 15 seconds.

The token goes into the \`Authorization\` header, never into the address; \`EventSource\` in browsers cannot send it, so read
the body of \`fetch()\` instead. The stream ends when the token does, when the server stops, and after 15 minutes: connect
again with the last \`id\`. One token may have so many streams open and no more (\`STREAMS_PER_TOKEN\`). It only makes
reading quicker: whoever cannot have it reads every few seconds.`;

/** What changes at an event, as it changes. */
export async function streamRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const streams = openStreams(deps);
  // Before the server waits for its connections.
  app.addHook('preClose', async () => streams.end());
  app.addHook('onClose', () => streams.close());
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/stream',
    neverCompressed: true,
    operationId: 'streamEvent',
    summary: 'Follow what changes at an event, as it changes',
    description: DESCRIPTION,
    tag: 'Events',
    access: STAFF,
    params: eventParams,
    headers: StreamHeaders,
    success: {
      200: {
        description: 'Messages without end',
        schema: EventStream,
        contentType: 'text/event-stream',
        example: EXAMPLE,
      },
    },
    problems: ['not-found', 'too-many-streams', 'streams-full'],
    handle: async ({ params, headers, actor, request, reply }) => {
      const wanted = { eventId: params.eventId, lastId: headers['last-event-id'] };
      const body = await streams.open(actor, wanted, reply.raw);
      // The body of HEAD would never end, and nobody would read it.
      if (request.method === 'HEAD') body.destroy();
      return { status: 200, headers: HEADERS, body: request.method === 'HEAD' ? '' : body };
    },
  });
}
