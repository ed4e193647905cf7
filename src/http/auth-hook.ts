import type { FastifyInstance } from 'fastify';
import type { Deps } from '../deps.ts';
import { authenticate, authorize, tokenHashOf } from './auth.ts';

/**
 * Finds out who asks before the body is read, on every route. A route that does not say who may call it does not
 * register: forgetting it must not open it.
 */
export function installAuth(app: FastifyInstance, deps: Deps): void {
  app.decorateRequest('actor', null);
  app.addHook('onRoute', (route) => {
    if (route.config?.access === undefined) {
      throw new Error(`route ${String(route.method)} ${route.url} does not say who may call it`);
    }
  });
  app.addHook('onRequest', async (request) => {
    const { access, authenticatesItself } = request.routeOptions.config;
    // An unknown address has no config; the not-found handler answers it.
    if (access === undefined || access === 'public' || authenticatesItself === true) return;
    request.actor = await authenticate(deps.db.pool, tokenHashOf(request));
    authorize(request.actor, access, request.params);
  });
}
