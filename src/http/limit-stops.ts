import type { FastifyInstance, FastifyRequest } from 'fastify';
import { callerKey } from './rate-limit-key.ts';

/** Of what a caller may ask in a minute, the part that may stop cars. Nobody needs more with cars in front of him. */
const SHARE = 0.1;
const LEAST = 10;

/**
 * Gives what stops cars a limit of its own for each token, so that one caller's excess sheds that caller: it is kept
 * when everything else is shed. Entrants count by entry, however many links of it are about.
 *
 * @param perMinute what a caller may ask in a minute in all
 */
export function limitStops(app: FastifyInstance, perMinute: number): void {
  const max = Math.max(LEAST, Math.ceil(perMinute * SHARE));
  app.addHook('onRoute', (route) => {
    if (route.config?.stopsCars !== true) return;
    route.config.rateLimit = { max, timeWindow: 60_000, keyGenerator: stopperKey };
  });
}

function stopperKey(request: FastifyRequest): string {
  const { actor } = request;
  return actor?.role === 'entrant' && actor.entryId !== undefined ? `entry ${actor.entryId}` : callerKey(request);
}
