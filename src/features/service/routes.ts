import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { addRoute } from '../../http/route.ts';
import { documentRoutes } from './document-routes.ts';
import { guideRoutes } from './guide-routes.ts';
import { pageRoutes } from './page-routes.ts';
import { ruleSetSchemaRoutes } from './rule-set-schema-routes.ts';
import { assertReady } from './ready.ts';
import { addSecurityTxtRoute } from './security-txt.ts';
import { Alive, Ready } from './schemas.ts';

/** What is outside `/v1`: health for machines, documentation for people. Everybody may call it. */
export async function serviceRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  let stopping = false;
  app.addHook('preClose', async () => {
    stopping = true;
  });
  const common = { tag: 'Service', access: 'public', method: 'GET' } as const;
  for (const [path, operationId] of [
    ['/healthz', 'getHealth'],
    ['/livez', 'getLiveness'],
  ] as const) {
    addRoute(app, {
      ...common,
      path,
      operationId,
      summary: 'Is the process alive?',
      description: 'Never asks the database: a restart does not help when the database is down.',
      success: { 200: { description: 'The process answers', schema: Alive, example: { status: 'ok' } } },
      problems: [],
      handle: async () => ({ status: 200, body: { status: 'ok' } }),
    });
  }
  addRoute(app, {
    ...common,
    path: '/readyz',
    operationId: 'getReadiness',
    summary: 'Can the server do its work?',
    description:
      'Asks the database and looks whether all migrations are there; 503 says what is missing. A proxy sends requests only to a server that is ready.',
    success: {
      200: {
        description: 'It can',
        schema: Ready,
        example: { status: 'ready', database: 'ok', clock: { differenceMs: 3 } },
      },
    },
    problems: ['migrations-pending'],
    handle: async () => {
      await assertReady(deps, stopping);
      const differenceMs = deps.clock.differenceMs?.();
      const clock = differenceMs === undefined ? {} : { clock: { differenceMs } };
      return { status: 200, body: { status: 'ready', database: 'ok', ...clock } };
    },
  });
  await documentRoutes(app);
  await pageRoutes(app);
  addSecurityTxtRoute(app, deps);
  await guideRoutes(app);
  await ruleSetSchemaRoutes(app);
}
