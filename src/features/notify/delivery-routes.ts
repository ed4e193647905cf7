import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { Id } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { listDeliveries } from './delivery-store.ts';
import { DELIVERY, PENDING_DELIVERY, PING_DELIVERY } from './webhook-examples.ts';
import { pingWebhook } from './manage-webhook.ts';
import { replayDelivery } from './webhook-replay.ts';
import { DeliveryList, deliveryParams, deliveryQuery, DeliveryView, webhookParams } from './webhook-schemas.ts';
import { findWebhook } from './webhook-store.ts';

/** Deliveries of webhooks: what was sent and what came of it. Organizers only. */
export async function webhookDeliveryRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Webhooks', access: ['organizer'] } as const;
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/webhooks/:webhookId/test',
    operationId: 'testWebhook',
    summary: 'Send a test message',
    description: 'A message of the type `webhook.test`, tried once. Look into the deliveries for what came of it.',
    params: webhookParams,
    success: { 202: { description: 'The delivery, to be sent', schema: DeliveryView, example: PING_DELIVERY } },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, request }) => ({
      status: 202,
      body: await pingWebhook(deps, params.webhookId, request.id),
    }),
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/webhooks/:webhookId/deliveries',
    operationId: 'listWebhookDeliveries',
    summary: 'List the deliveries of a webhook',
    description: 'Each with all its attempts.',
    params: webhookParams,
    query: deliveryQuery,
    success: {
      200: {
        description: 'One page of deliveries',
        schema: DeliveryList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: { deliveries: [DELIVERY] },
      },
    },
    problems: ['not-found', 'cursor-not-valid'],
    handle: async ({ params: { webhookId }, query: { state, cursor, limit }, request }) => {
      const scope = { list: 'listWebhookDeliveries', filters: { webhookId, state: state ?? null } };
      const before = decodeCursor(scope, cursor, z.tuple([Id]))?.[0];
      if ((await findWebhook(deps.db.prisma, webhookId)) === undefined) throw notFound('webhook');
      const rows = await listDeliveries(deps.db.prisma, { webhookId, state, before, take: limit + 1 });
      const positionOf = ({ deliveryId }: DeliveryView) => [deliveryId];
      const page = toPage(rows, { scope, limit, url: request.url, positionOf });
      return { status: 200, body: { deliveries: page.rows, next: page.next }, headers: page.headers };
    },
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/webhooks/:webhookId/deliveries/:deliveryId/replay',
    operationId: 'replayWebhookDelivery',
    summary: 'Send a message again',
    description: 'With the `webhook-id` and the bytes it had. It is tried as a new message is.',
    params: deliveryParams,
    success: { 202: { description: 'The delivery, to be sent', schema: DeliveryView, example: PENDING_DELIVERY } },
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, request }) => ({ status: 202, body: await replayDelivery(deps, params, request.id) }),
  });
}
