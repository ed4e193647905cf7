import { createHash } from 'node:crypto';
import swaggerUi from '@fastify/swagger-ui';
import type { FastifyInstance, RouteOptions } from 'fastify';
import { etagOf, isNotModified } from '../../http/etag.ts';
import { apiDocument } from './document.ts';

const DOCS_CSP =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self' data:; " +
  "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/** The API document and the page to read it and try it; everything comes from this server. */
export async function documentRoutes(app: FastifyInstance): Promise<void> {
  let cached: { text: string; etag: string } | undefined;
  // Made at the first request: before that not all routes may be registered.
  const getDocument = () => (cached ??= render(app));
  app.get('/openapi.json', { config: { access: 'public' }, schema: { hide: true } }, async (request, reply) => {
    const { text, etag } = getDocument();
    reply.headers({ etag, 'cache-control': 'no-cache' });
    if (isNotModified(request.headers['if-none-match'], etag)) return reply.code(304).send();
    return reply.header('content-type', 'application/json; charset=utf-8').send(text);
  });
  await app.register(async (docs) => {
    allowEverybody(docs);
    await docs.register(swaggerUi, {
      routePrefix: '/docs',
      staticCSP: DOCS_CSP,
      // No top bar: it holds a logo and a field for other documents.
      uiConfig: { layout: 'BaseLayout', deepLinking: true, tryItOutEnabled: false },
      transformSpecification: () => apiDocument(app),
      transformSpecificationClone: false,
      theme: { title: 'Gridworthy API', favicon: [] },
    });
  });
}

function render(app: FastifyInstance): { text: string; etag: string } {
  const text = JSON.stringify(apiDocument(app));
  return { text, etag: etagOf(createHash('sha256').update(text).digest('base64url').slice(0, 16)) };
}

/** The plugin cannot say who may call its routes, so this says it for all that are registered below `docs`. */
function allowEverybody(docs: FastifyInstance): void {
  // oxlint-disable-next-line typescript/unbound-method -- it gets its `this` back below
  const { route } = docs;
  docs.route = function publicRoute(this: FastifyInstance, options: RouteOptions) {
    return route.call(this, { ...options, config: { ...options.config, access: 'public' } });
  } as FastifyInstance['route'];
}
