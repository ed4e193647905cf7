import type { FastifyInstance, FastifyReply } from 'fastify';
import { z } from 'zod';
import { notFound } from '../../http/frame/problem.ts';
import { PROBLEMS, type ProblemSlug } from '../../http/frame/problems.ts';
import { PAGE_HEADERS } from './html.ts';
import { indexPage, problemPage, problemsPage } from './pages.ts';

const slugParams = z.strictObject({ slug: z.string().max(100) });

/** Pages for people: the index and what each problem means. They are not part of the API document. */
export async function pageRoutes(app: FastifyInstance): Promise<void> {
  const hidden = { config: { access: 'public' }, schema: { hide: true } } as const;
  app.get('/', hidden, async (_request, reply) => sendPage(reply, indexPage()));
  app.get('/problems', hidden, async (_request, reply) => sendPage(reply, problemsPage()));
  app.get('/problems/:slug', { ...hidden, schema: { hide: true, params: slugParams } }, async (request, reply) => {
    const { slug } = slugParams.parse(request.params);
    if (!isSlug(slug)) throw notFound('problem');
    return sendPage(reply, problemPage(slug));
  });
}

function isSlug(text: string): text is ProblemSlug {
  return Object.hasOwn(PROBLEMS, text);
}

function sendPage(reply: FastifyReply, text: string): FastifyReply {
  return reply.headers(PAGE_HEADERS).send(text);
}
