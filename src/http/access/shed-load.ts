import underPressure from '@fastify/under-pressure';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { getHeapStatistics } from 'node:v8';
import type { Deps } from '../../deps.ts';
import { type PoolWait, watchPool } from '../../platform/database/db.ts';
import { tokenHashOf } from './auth.ts';
import { ProblemError } from '../frame/problem.ts';

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

const SAMPLE_MS = 250;
/** The start itself keeps the event loop busy, which is nobody's demand; it is over within so many samples. */
const START_SAMPLES = 2;
/** Of the memory that Node.js may use, where no limit is set. */
const HEAP_SHARE = 0.85;
/** Stops that may wait for a connection. */
const MAX_WAITING_STOPS = 100;
const RETRY = { 'retry-after': '2' };

/** What is answered whatever the pressure: marshals with cars in front of them, and whoever asks whether we live. */
const KEPT = /^\/v1\/events\/:eventId\/gate(?:\/|$)|^\/(?:healthz|livez|readyz|metrics)$/;

/**
 * Refuses what can be asked again in a moment while the process has more to do than it gets done: before anything is
 * read, so that a refusal costs next to nothing. Limits are in the configuration; 0 switches one off.
 */
export async function installShedding(app: FastifyInstance, deps: Deps): Promise<void> {
  const { maxLoopDelayMs, maxHeapMb, maxWaitMs } = deps.config;
  let countsFrom = Infinity;
  await app.register(underPressure, {
    maxEventLoopDelay: maxLoopDelayMs,
    maxHeapUsedBytes: maxHeapMb === undefined ? heapLimitBytes() : maxHeapMb * 2 ** 20,
    sampleInterval: SAMPLE_MS,
    pressureHandler: (request) => {
      if (performance.now() > countsFrom) refuse(request);
    },
  });
  let connections: PoolWait | undefined;
  app.addHook('onListen', async () => {
    countsFrom = performance.now() + START_SAMPLES * SAMPLE_MS;
    if (maxWaitMs > 0) connections = watchPool(deps.db.pool, SAMPLE_MS);
  });
  app.addHook('onClose', async () => connections?.stop());
  app.addHook('onRequest', (request, _reply, done) => {
    if (request.routeOptions.config.stopsCars === true) refuseBeyond(deps.stops.pool.waitingCount);
    else if (connections !== undefined && connections.waitMs() > maxWaitMs) refuse(request);
    done();
  });
}

/** Stops are kept as well, in a queue of their own; what is beyond it would only hear of it when the car is on track. */
function refuseBeyond(waiting: number): void {
  if (waiting < MAX_WAITING_STOPS) return;
  throw new ProblemError('overloaded', 'Too many cars are being stopped at once.', {}, RETRY);
}

function refuse(request: FastifyRequest): void {
  if (request.routeOptions.config.stopsCars === true) return;
  if (KEPT.test(request.routeOptions.url ?? '')) return;
  throw new ProblemError('overloaded', 'More is asked of this server than it gets done.', {}, RETRY);
}

function heapLimitBytes(): number {
  return Math.floor(getHeapStatistics().heap_size_limit * HEAP_SHARE);
}

/**
 * A paddock shares one address, so callers are counted each by token and only others by address. The token is known to
 * be valid where a route has its caller found out first; elsewhere made-up ones are counted by `failed-auth.ts`.
 */
export function callerKey(request: FastifyRequest): string {
  const { access, authenticatesItself } = request.routeOptions.config;
  if (access === undefined || access === 'public') return request.ip;
  const { actor } = request;
  if (actor !== null) return actor.tokenId;
  return (authenticatesItself === true ? tokenHashOf(request)?.toString('latin1') : undefined) ?? request.ip;
}
