import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { Id, IfMatch } from '../../http/frame/common-schemas.ts';
import { decodeCursor, toPage } from '../../http/frame/cursor.ts';
import { etagOf } from '../../http/frame/etag.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { changeWebhook, createWebhook, removeWebhook, rotateSecret } from './manage-webhook.ts';
import { EXAMPLE_SECRET, NEW_WEBHOOK, WEBHOOK } from './webhook-examples.ts';
import {
  CreatedWebhook,
  NewWebhook,
  RotatedSecret,
  WebhookChanges,
  WebhookList,
  webhookParams,
  webhookQuery,
  WebhookView,
} from './webhook-schemas.ts';
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
