import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { entryParams } from '../../http/common-schemas.ts';
import { addRoute } from '../../http/route.ts';
import { backToLine } from './back-to-line.ts';
import { SENT_BACK_EXAMPLE } from './examples.ts';
import { SendBack, SentBackView } from './schemas.ts';

/** The way back on the line for a car that was through it. */
export function addBackRoute(app: FastifyInstance, deps: Deps): void {
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/back-to-line',
    operationId: 'backToLine',
    summary: 'Put a car on the line again',
    description:
      'For a car that was refused, whose sign-off was for a part of the days or has ended, or that must be looked at anew: it waits with what was declared last, also after the declaration window. A sign-off it has no longer counts.',
    tag: 'Line',
    access: ['organizer', 'chief', 'inspector'],
    params: entryParams,
    body: SendBack,
    bodyExample: { reason: 'the leak was mended' },
    success: { 200: { description: 'It waits on the line', schema: SentBackView, example: SENT_BACK_EXAMPLE } },
    problems: ['not-found', 'conflict-of-interest', 'state-moved-on', 'bar-stands'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await backToLine(deps, actor, { entryId: params.entryId, reason: body.reason, requestId: request.id }),
    }),
  });
}
