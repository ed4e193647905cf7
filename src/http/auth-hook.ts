import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Deps } from '../deps.ts';
import { OF_EVENTS } from '../domain/actor.ts';
import type { Pool } from '../platform/db.ts';
import { authenticate, authorize, tokenHashOf } from './auth.ts';
import { type FailedAuth, limitFailedAuth } from './failed-auth.ts';
import { assertReaches, unplaced } from './token-events.ts';

/** Of what a caller with a token may ask in a minute, the part that may fail for want of one. */
const FAILED_SHARE = 0.1;
const LEAST_FAILED = 10;

/**
 * Finds out who asks before the body is read, on every route. A route that does not say who may call it does not
 * register: forgetting it must not open it.
 */
export function installAuth(app: FastifyInstance, deps: Deps): void {
  app.decorateRequest('actor', null);
  const poolFor = ({ routeOptions }: FastifyRequest): Pool =>
    routeOptions.config.stopsCars === true ? deps.stops.pool : deps.db.pool;
  const perMinute = Math.max(LEAST_FAILED, Math.ceil(deps.config.rateLimitPerMinute * FAILED_SHARE));
  app.decorate('failedAuth', limitFailedAuth({ perMinute, nowMs: () => performance.now() }));
  app.addHook('onRoute', (route) => {
    if (route.config?.access === undefined) {
      throw new Error(`route ${String(route.method)} ${route.url} does not say who may call it`);
    }
    const { access } = route.config;
    const names = Array.isArray(access) && access.some((role) => OF_EVENTS.includes(role)) ? unplaced(route.url) : [];
    if (names.length > 0) throw new Error(`route ${route.url}: nobody says which event ${names.join(', ')} is below`);
  });
  app.addHook('onRequest', async (request) => {
    const { access, authenticatesItself } = request.routeOptions.config;
    // An unknown address has no config; the not-found handler answers it.
    if (access === undefined || access === 'public' || authenticatesItself === true) return;
    request.actor = await authenticate(poolFor(request), tokenHashOf(request), deps.clock.now());
  });
  // The limiter counts a caller between the two, so that what is forbidden counts as well; the body is read after both.
  app.addHook('preParsing', async (request) => {
    const { access } = request.routeOptions.config;
    if (request.actor === null || access === undefined) return;
    authorize(request.actor, access, request.params);
    await assertReaches(poolFor(request), request.actor, request.params);
  });
  // Routes that look their caller up themselves: he is asked for before his faults are told.
  app.addHook('preHandler', async (request) => {
    const { access } = request.routeOptions.config;
    if (request.validationError === undefined || access === undefined) return;
    request.actor = await authenticate(poolFor(request), tokenHashOf(request), deps.clock.now());
    authorize(request.actor, access, request.params);
    await assertReaches(poolFor(request), request.actor, request.params);
    throw request.validationError;
  });
}

declare module 'fastify' {
  interface FastifyInstance {
    failedAuth: FailedAuth;
  }
}
