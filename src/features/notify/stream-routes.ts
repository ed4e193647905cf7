import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { NOTHING_WRONG } from '../../domain/clearance/car-facts.ts';
import { eventParams } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import { changeMessage, helloMessage } from './stream-message.ts';
import { openStreams } from './streams.ts';

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
