import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { entryParams, Id, IdempotencyKey } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { parseIdempotencyKey } from '../../http/frame/idempotency.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { CLEARANCE_EXAMPLE } from '../../http/views/clearance-view.ts';
import { LOG_EXAMPLE, LogInput, LogList, logQuery, viewLog, WrittenLog } from './log-schemas.ts';
import { hasEntry, listLog, type StoredLog } from './log-store.ts';
import { writeLog } from './write-log.ts';

const WRITE_DESCRIPTION = `Beside the declaration, which it never changes: hot pressures, torque after the first session, pads and
tread after a session, laps, temperatures, what was felt. It is kept as it is written. It takes no clearance away by
itself, but for its own rules: a symptom with which nobody drives on stops the car, as the entrant's own hold does; a \`torque\`
of all wheels, at the maker's value, cooled and after the session, closes the re-check that the acceptance asked for; a
\`tread\` is what the gate goes by on a wet track, of an entrant only where it is too low. \`says\` tells what came of it.`;

const WRITTEN_EXAMPLE: z.infer<typeof WrittenLog> = {
  ...LOG_EXAMPLE,
  says: ['Done: Re-check wheel torque after the first session, wheels cooled.'],
  clearance: { ...CLEARANCE_EXAMPLE, admit: true, status: 'clear', reason: 'Signed off at the tech line.' },
};

/** The log of an entry: what was measured or felt after a session. */
export async function logRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/log',
    operationId: 'writeLog',
    summary: 'Write down what was measured or felt after a session',
    description: WRITE_DESCRIPTION,
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    headers: IdempotencyKey,
    body: LogInput,
    bodyExample: {
      kind: 'torque',
      session: '1',
      at: '2026-06-13T08:40:00Z',
      values: { 'wheel.torque-setting': { value: 81, unit: 'lbf·ft' } },
      wheelsCooled: true,
    },
    success: { 201: { description: 'Written', schema: WrittenLog, example: WRITTEN_EXAMPLE } },
    problems: [
      'not-found',
      'state-moved-on',
      'answers-not-acceptable',
      'not-acceptable',
      'idempotency-key-required',
      'idempotency-key-reused',
    ],
    handle: ({ params, headers, body, actor, request }) => {
      const key = parseIdempotencyKey(headers['idempotency-key']);
      return writeLog(deps, actor, { entryId: params.entryId, key, body, requestId: request.id });
    },
  });
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/log',
    operationId: 'listLog',
    summary: 'List what was written down after sessions',
    description: 'The newest first, in pages.',
    tag: 'Clearance',
    access: [...STAFF, 'entrant'],
    params: entryParams,
    query: logQuery,
    success: {
      200: {
        description: 'One page, the newest first',
        schema: LogList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: { log: [LOG_EXAMPLE] },
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params: { entryId }, query, request }) => {
      const scope = { list: 'listLog', filters: { entryId } };
      const after = decodeCursor(scope, query.cursor, z.tuple([Id]))?.[0];
      const rows = await listLog(deps.db.prisma, entryId, { after, take: query.limit + 1 });
      if (rows.length === 0 && !(await hasEntry(deps.db.prisma, entryId))) throw notFound('entry');
      const positionOf = ({ logId }: StoredLog) => [logId];
      const page = toPage(rows, { scope, limit: query.limit, url: request.url, positionOf });
      return { status: 200, body: { log: page.rows.map(viewLog), next: page.next }, headers: page.headers };
    },
  });
}
