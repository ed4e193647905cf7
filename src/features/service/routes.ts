import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { documentRoutes, ruleSetSchemaRoutes } from './document-routes.ts';
import { healthRoutes } from './health.ts';
import { guideRoutes, pageRoutes } from './pages.ts';

/** What is outside `/v1`: health for machines, documentation for people. Everybody may call it. */
export async function serviceRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  await healthRoutes(app, deps);
  await documentRoutes(app);
  await pageRoutes(app);
  addSecurityTxtRoute(app, deps);
  addRobotsTxtRoute(app);
  await guideRoutes(app);
  await ruleSetSchemaRoutes(app);
}

const DAY_MS = 86_400_000;
/** RFC 9116 asks for less than a year; a copy that nobody renews should not live long. */
const GOOD_FOR_DAYS = 30;

const SecurityTxt = z.string().describe('RFC 9116').meta({ id: 'SecurityTxt' });
const EXAMPLE = 'Contact: mailto:security@club.example\nExpires: 2026-07-10T00:00:00.000Z\n';

const ROBOTS = 'User-agent: *\nDisallow: /\n';

/** Nothing here is for a search engine: pages are behind links with tokens, and what is public is documentation of a club's server. */
function addRobotsTxtRoute(app: FastifyInstance): void {
  app.get('/robots.txt', { config: { access: 'public' }, schema: { hide: true } }, async (_request, reply) =>
    reply.type('text/plain; charset=utf-8').send(ROBOTS),
  );
}

/** Whom to tell of a weakness of this server, where the organizer named somebody. */
function addSecurityTxtRoute(app: FastifyInstance, deps: Deps): void {
  const { securityContact } = deps.config;
  addRoute(app, {
    method: 'GET',
    path: '/.well-known/security.txt',
    operationId: 'getSecurityTxt',
    summary: 'Whom to tell of a weakness',
    description: 'Text as RFC 9116 has it, with the `SECURITY_CONTACT` of the configuration; 404 where there is none.',
    tag: 'Service',
    access: 'public',
    success: {
      200: { description: 'Contact and expiry', schema: SecurityTxt, contentType: 'text/plain', example: EXAMPLE },
    },
    problems: ['not-found'],
    handle: async () => {
      if (securityContact === undefined) throw notFound('security contact');
      // Of the day, so that everybody who asks on one day gets the same text.
      const today = Math.floor(deps.clock.now().getTime() / DAY_MS);
      const expires = new Date((today + GOOD_FOR_DAYS) * DAY_MS).toISOString();
      const body = `Contact: ${securityContact}\nExpires: ${expires}\n`;
      return { status: 200, body, headers: { 'content-type': 'text/plain; charset=utf-8' } };
    },
  });
}
