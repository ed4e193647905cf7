import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { marked } from 'marked';
import { etagOf, isNotModified } from '../../http/etag.ts';
import { projectFolder } from '../../http/project-folder.ts';
import { ruleSetJsonSchema } from '../../http/rule-set-schema.ts';
import { PAGE_HEADERS, page } from './html.ts';

const HIDDEN = { config: { access: 'public' }, schema: { hide: true } } as const;

/** The page about rule sets and the schema that editors use. */
export async function ruleSetPageRoutes(app: FastifyInstance): Promise<void> {
  const schema = JSON.stringify(ruleSetJsonSchema());
  const etag = etagOf(createHash('sha256').update(schema).digest('base64url').slice(0, 16));
  app.get('/rule-set.schema.json', HIDDEN, async (request, reply) => {
    // an editor in a browser may be of another origin; there is nothing secret in it
    reply.headers({ etag, 'cache-control': 'no-cache', 'access-control-allow-origin': '*' });
    if (isNotModified(request.headers['if-none-match'], etag)) return reply.code(304).send();
    return reply.header('content-type', 'application/schema+json; charset=utf-8').send(schema);
  });
  let text: Promise<string> | undefined;
  app.get('/docs/rule-sets', HIDDEN, async (_request, reply) => {
    text ??= renderPage();
    return reply.headers(PAGE_HEADERS).send(await text);
  });
}

/** The file is ours, so that what `marked` makes of it needs no cleaning. */
async function renderPage(): Promise<string> {
  const markdown = await readFile(join(projectFolder(), 'openapi', 'rule-sets.md'), 'utf8');
  return page('Rule sets', { html: await marked.parse(markdown) });
}
