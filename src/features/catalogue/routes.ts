import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { etagOf, isNotModified } from '../../http/etag.ts';
import { addRoute } from '../../http/route.ts';
import { CatalogueView } from './schemas.ts';
import { buildCatalogueView } from './view.ts';

const IfNoneMatch = z.looseObject({
  'if-none-match': z.string().optional().describe('ETag of the copy the caller has'),
});

/** The catalogue: everything an inspection can ask. It changes with the version of the server only. */
export async function catalogueRoutes(app: FastifyInstance): Promise<void> {
  const { view, tag } = buildCatalogueView();
  const etag = etagOf(tag);
  const headers = { etag, 'cache-control': 'private, no-cache' };
  const documented = { ETag: 'Version of the catalogue and its texts' };
  addRoute(app, {
    tag: 'Catalogue',
    access: 'any',
    method: 'GET',
    path: '/catalogue',
    operationId: 'getCatalogue',
    summary: 'Read the catalogue',
    description: 'All items with their answer types, units and positions. Send `If-None-Match` to save the transfer.',
    headers: IfNoneMatch,
    success: {
      200: {
        description: 'The catalogue',
        schema: CatalogueView,
        headers: documented,
        example: { ...view, items: view.items.slice(0, 2) },
      },
      304: { description: 'The copy the caller has is current', headers: documented },
    },
    problems: [],
    handle: async ({ headers: { 'if-none-match': known } }) =>
      isNotModified(known, etag) ? { status: 304, headers } : { status: 200, body: view, headers },
  });
}
