import { createHash } from 'node:crypto';
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { STAFF } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { tokenHashOf } from '../../http/access/auth.ts';
import { eventParams } from '../../http/frame/common-schemas.ts';
import { isNotModified } from '../../http/frame/etag.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { openBreather } from '../../platform/clock.ts';
import { lookUpNumber, openCheckLog, openGate } from './look-up.ts';
import { decideEntry } from './decide.ts';
import { GATE_EXAMPLE, GATE_LIST_EXAMPLE, GateAnswer, GateList, GateQuery, gateParams } from './schemas.ts';
import { listGate } from './store.ts';

const IfNoneMatch = z.looseObject({ 'if-none-match': z.string().optional().describe('ETag of the list you have') });

/** The gate: a car number in, one answer out. */
export async function gateRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const log = openCheckLog(deps);
  const gate = openGate(deps, log);
  app.addHook('onClose', async () => {
    await log.close();
    await gate.pool.end();
  });
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/gate/:carNumber',
    operationId: 'lookUpCar',
    summary: 'May this car go onto the track?',
    description:
      'Anything but `"admit": true` means: do not admit. An unknown number is an answer too, with the numbers that may have been meant; one number is never taken for another, and every answer names the cars whose numbers look like it. Every lookup is logged.',
    tag: 'Gate',
    access: STAFF,
    authenticatesItself: true,
    plainJson: true,
    neverCompressed: true,
    params: gateParams,
    query: GateQuery,
    success: { 200: { description: 'The answer', schema: GateAnswer, example: GATE_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, query, request }) => ({
      status: 200,
      body: await lookUpNumber(deps, gate, STAFF, {
        tokenHash: tokenHashOf(request),
        eventId: params.eventId,
        carNumber: params.carNumber,
        runGroupId: query.runGroupId,
      }),
    }),
  });
  addListRoute(app, deps);
}

function addListRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'GET',
    path: '/events/:eventId/gate',
    operationId: 'listGate',
    summary: 'The answers for every entry of the event',
    description: 'Small enough to ask for often: send the ETag of the list you have and get 304 while nothing changed.',
    tag: 'Gate',
    access: STAFF,
    plainJson: true,
    params: eventParams,
    headers: IfNoneMatch,
    success: {
      200: {
        description: 'The list',
        schema: GateList,
        headers: { ETag: 'Version of the list' },
        example: GATE_LIST_EXAMPLE,
      },
      304: { description: 'The list you have is still right', headers: { ETag: 'Version of the list' } },
    },
    problems: ['not-found'],
    handle: async ({ params, headers }) => {
      const rows = await listGate(deps.db.pool, params.eventId);
      if (rows === undefined) throw notFound('event');
      const now = deps.clock.now();
      const entries: string[] = [];
      // Over the answers and not over rows: time alone can change an answer.
      const hash = createHash('sha256');
      const breathe = openBreather();
      for (const row of rows) {
        const entry = decideEntry(row, now);
        entries.push(JSON.stringify(entry));
        hash.update(canonicalJson(entry));
        await breathe();
      }
      const etag = `"${hash.digest('hex').slice(0, 32)}"`;
      const cache = { etag, 'cache-control': 'no-cache, private', vary: 'authorization' };
      if (isNotModified(headers['if-none-match'], etag)) return { status: 304, headers: cache };
      const [event, caution] = [JSON.stringify(params.eventId), JSON.stringify(GENERAL_CAUTION)];
      const bodyText = `{"eventId":${event},"entries":[${entries.join(',')}],"caution":${caution}}`;
      return { status: 200, bodyText, headers: cache };
    },
  });
}
