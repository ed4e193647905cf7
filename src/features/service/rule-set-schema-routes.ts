import { createHash } from 'node:crypto';
import type { FastifyInstance } from 'fastify';
import { etagOf, isNotModified } from '../../http/etag.ts';
import { ruleSetJsonSchema } from '../../http/rule-set-schema.ts';

const HIDDEN = { config: { access: 'public' }, schema: { hide: true } } as const;

/** The JSON Schema of a rule set, that editors use. */
export async function ruleSetSchemaRoutes(app: FastifyInstance): Promise<void> {
  const schema = JSON.stringify(ruleSetJsonSchema());
  const etag = etagOf(createHash('sha256').update(schema).digest('base64url').slice(0, 16));
  app.get('/rule-set.schema.json', HIDDEN, async (request, reply) => {
    // an editor in a browser may be of another origin; there is nothing secret in it
    reply.headers({ etag, 'cache-control': 'no-cache', 'access-control-allow-origin': '*' });
    if (isNotModified(request.headers['if-none-match'], etag)) return reply.code(304).send();
    return reply.header('content-type', 'application/schema+json; charset=utf-8').send(schema);
  });
}
