import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { Id, IfMatch } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { etagOf } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { listDeliveries } from './delivery-store.ts';
import { changeWebhook, createWebhook, pingWebhook, removeWebhook, rotateSecret } from './manage-webhook.ts';
import {
  CreatedWebhook,
  DELIVERY,
  DeliveryList,
  deliveryParams,
  deliveryQuery,
  DeliveryView,
  EXAMPLE_SECRET,
  NEW_WEBHOOK,
  NewWebhook,
  PENDING_DELIVERY,
  PING_DELIVERY,
  RotatedSecret,
  WEBHOOK,
  WebhookChanges,
  WebhookList,
  webhookParams,
  webhookQuery,
  WebhookView,
} from './webhook-schemas.ts';
import { replayDelivery } from './webhook-sending.ts';
import { findWebhook, listWebhooks, type StoredWebhook } from './webhook-store.ts';

const ETAG = { ETag: 'The version, for `If-Match`' };
const SCOPE = { list: 'listWebhooks', filters: {} };
const RECEIVER =
  'Messages follow Standard Webhooks 1.0. A receiver checks the signature, answers 2xx within 15 seconds, and takes a ' +
  '`webhook-id` it has seen for the same message; messages may come late and in any order, so read the object again. ' +
  'Anything else, a redirect too, is tried again nine times over three days; after that, or at once after 410, the ' +
  'webhook is disabled.';

/** Webhooks: who is told what. Organizers only. */
export async function webhookRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Webhooks', access: ['organizer'] } as const;
  const withETag = ({ view, rev }: StoredWebhook) => ({ status: 200, body: view, headers: { etag: etagOf(rev) } });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/webhooks',
    neverCompressed: true,
    operationId: 'createWebhook',
    shownOnce: true,
    summary: 'Have messages sent',
    description: RECEIVER,
    body: NewWebhook,
    bodyExample: NEW_WEBHOOK,
    success: {
      201: {
        description: 'The webhook, with its secret shown once',
        schema: CreatedWebhook,
        headers: { ...ETAG, Location: 'The webhook' },
        example: { ...WEBHOOK, lastSuccessAt: undefined, secret: EXAMPLE_SECRET },
      },
    },
    problems: ['not-acceptable', 'too-many-webhooks'],
    handle: async ({ actor, body, request }) => {
      const { view, rev, secret } = await createWebhook(deps, actor, { input: body, requestId: request.id });
      const headers = { etag: etagOf(rev), location: `/v1/webhooks/${view.webhookId}` };
      return { status: 201, body: { ...view, secret }, headers };
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/webhooks',
    operationId: 'listWebhooks',
    summary: 'List webhooks',
    description: 'Secrets cannot be read again.',
    query: webhookQuery,
    success: {
      200: {
        description: 'One page of webhooks',
        schema: WebhookList,
        headers: { Link: 'The next page, `rel="next"`' },
        example: { webhooks: [WEBHOOK] },
      },
    },
    problems: ['cursor-not-valid'],
    handle: async ({ query, request }) => {
      const after = decodeCursor(SCOPE, query.cursor, z.tuple([Id]));
      const rows = await listWebhooks(deps.db.prisma, after?.[0], query.limit + 1);
      const positionOf = ({ view }: StoredWebhook) => [view.webhookId];
      const page = toPage(rows, { scope: SCOPE, limit: query.limit, url: request.url, positionOf });
      const webhooks = page.rows.map(({ view }) => view);
      return { status: 200, body: { webhooks, next: page.next }, headers: page.headers };
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/webhooks/:webhookId',
    operationId: 'getWebhook',
    summary: 'Read a webhook',
    description: 'Says how it fares, and why it is disabled where it is.',
    params: webhookParams,
    success: { 200: { description: 'The webhook', schema: WebhookView, headers: ETAG, example: WEBHOOK } },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const stored = await findWebhook(deps.db.prisma, params.webhookId);
      if (stored === undefined) throw notFound('webhook');
      return withETag(stored);
    },
  });
  addRoute(app, {
    ...common,
    method: 'PATCH',
    path: '/webhooks/:webhookId',
    operationId: 'changeWebhook',
    summary: 'Change a webhook',
    description:
      'Only the fields that are given change. `enabled: true` starts a disabled one again; what happened meanwhile is ' +
      'not told, and what was cancelled can be replayed.',
    params: webhookParams,
    headers: IfMatch,
    body: WebhookChanges,
    bodyExample: { enabled: true },
    success: { 200: { description: 'The webhook as it is now', schema: WebhookView, headers: ETAG, example: WEBHOOK } },
    problems: ['not-found', 'not-acceptable', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, headers, body, actor, request }) => {
      const asked = { ...params, ifMatch: headers['if-match'], changes: body, requestId: request.id };
      return withETag(await changeWebhook(deps, actor, asked));
    },
  });
  addRoute(app, {
    ...common,
    method: 'DELETE',
    path: '/webhooks/:webhookId',
    operationId: 'deleteWebhook',
    summary: 'Remove a webhook',
    description: 'Its deliveries go with it, sent or not.',
    params: webhookParams,
    success: { 204: { description: 'Removed' } },
    problems: ['not-found'],
    handle: async ({ params, actor, request }) => {
      await removeWebhook(deps, actor, { ...params, requestId: request.id });
      return { status: 204 };
    },
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/webhooks/:webhookId/secret',
    neverCompressed: true,
    operationId: 'rotateWebhookSecret',
    summary: 'Give a webhook a new secret',
    description: 'For 24 hours messages carry a signature with the secret before as well.',
    params: webhookParams,
    success: {
      200: {
        description: 'The new secret, shown once',
        schema: RotatedSecret,
        example: {
          webhookId: WEBHOOK.webhookId,
          secret: EXAMPLE_SECRET,
          previousEndsAt: '2026-06-02T08:00:00.000Z',
        },
      },
    },
    problems: ['not-found'],
    handle: async ({ params, actor, request }) => ({
      status: 200,
      body: await rotateSecret(deps, actor, { ...params, requestId: request.id }),
    }),
  });
}

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
