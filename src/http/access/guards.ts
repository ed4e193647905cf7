import { normalizeIP } from '@fastify/rate-limit';
import type { FastifyInstance, FastifyRequest, HookHandlerDoneFunction } from 'fastify';
import underPressure from '@fastify/under-pressure';
import { getHeapStatistics } from 'node:v8';
import type { Deps } from '../../deps.ts';
import { type Actor, OF_EVENTS } from '../../domain/actor.ts';
import { type Pool, type PoolWait, watchPool } from '../../platform/database/db.ts';
import { type Access, assertReaches, authenticate, authorize, tokenHashOf, unplaced } from './auth.ts';
import { ProblemError } from '../frame/problem.ts';

export const WINDOW_MS = 60_000;
/** Callers and addresses that are remembered; with more, those whose window began first are forgotten. */
const MAX_COUNTED = 10_000;

/** What somebody has done in a window of time, this one included, and how long it lasts, in milliseconds. */
export interface Count {
  current: number;
  ttl: number;
}

/** Counts by key, in windows that begin with the first one. `nowMs` is a clock that never goes back. */
export function countInWindows(nowMs: () => number): (key: string, windowMs: number) => Count {
  const counted = new Map<string, { current: number; endsAt: number }>();
  return (key, windowMs) => {
    const now = nowMs();
    let one = counted.get(key);
    if (one === undefined || one.endsAt <= now) {
      counted.delete(key);
      const [oldest] = counted.keys();
      if (counted.size >= MAX_COUNTED && oldest !== undefined) counted.delete(oldest);
      one = { current: 0, endsAt: now + windowMs };
      counted.set(key, one);
    }
    one.current += 1;
    return { current: one.current, ttl: one.endsAt - now };
  };
}

/** Counts requests without a valid token. One that has a valid token is never counted here, nor refused. */
interface FailedAuth {
  /** what to answer instead of 401 when this address has failed too often in this minute */
  refusalFor(address: string): ProblemError | undefined;
}

/**
 * Limits failed tries by address, however many made-up tokens they come with. A paddock shares one address, so the
 * token is looked up first, and only who failed waits.
 *
 * @param options `perMinute` failures that are answered as such; `nowMs` a clock that never goes back
 */
export function limitFailedAuth({ perMinute, nowMs }: { perMinute: number; nowMs(): number }): FailedAuth {
  const count = countInWindows(nowMs);
  return {
    refusalFor(address) {
      const { current, ttl } = count(keyOf(address), WINDOW_MS);
      return current > perMinute ? tooMany(Math.ceil(ttl / 1000)) : undefined;
    },
  };
}

/** All addresses of one IPv6 network count as one: whoever has one of them has them all. */
function keyOf(address: string): string {
  try {
    return normalizeIP(address);
  } catch {
    // A proxy may name something that is no address; it is still a name to count under.
    return address;
  }
}

function tooMany(seconds: number): ProblemError {
  const detail = `Too many requests without a valid token came from this address. Try again in ${seconds} seconds.`;
  return new ProblemError('too-many-requests', detail, {}, { 'retry-after': String(seconds) });
}

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
  const findOut = async (request: FastifyRequest): Promise<Actor> =>
    (request.actor = await authenticate(poolFor(request), tokenHashOf(request), deps.clock.now()));
  const assertMay = async (request: FastifyRequest, actor: Actor, access: Access): Promise<void> => {
    authorize(actor, access, request.params);
    await assertReaches(poolFor(request), actor, request.params);
  };
  // Without a promise where nothing is asked for: each of these runs for every request.
  app.addHook('onRequest', (request, _reply, done) => {
    const { access, authenticatesItself } = request.routeOptions.config;
    // An unknown address has no config; the not-found handler answers it.
    if (access === undefined || access === 'public' || authenticatesItself === true) return done();
    goOnAfter(findOut(request), done);
  });
  // The limiter counts a caller between the two, so that what is forbidden counts as well; the body is read after both.
  app.addHook('preParsing', (request, _reply, _payload, done) => {
    const { access } = request.routeOptions.config;
    if (request.actor === null || access === undefined) return done();
    goOnAfter(assertMay(request, request.actor, access), done);
  });
  // Routes that look their caller up themselves: he is asked for before his faults are told.
  app.addHook('preHandler', (request, _reply, done) => {
    const { access } = request.routeOptions.config;
    const { validationError } = request;
    if (validationError === undefined || access === undefined) return done();
    const refusing = async () => {
      await assertMay(request, await findOut(request), access);
      throw validationError;
    };
    goOnAfter(refusing(), done);
  });
}

/** Ends a hook when its work is done. One that mostly has no work is not `async`: the promise would cost every request. */
function goOnAfter(work: Promise<unknown>, done: HookHandlerDoneFunction): void {
  // oxlint-disable-next-line promise/no-callback-in-promise -- as the framework does with a hook that returns a promise
  work.then(() => done(), done);
}

declare module 'fastify' {
  interface FastifyInstance {
    failedAuth: FailedAuth;
  }
}

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
    route.config.rateLimit = { max, timeWindow: WINDOW_MS, keyGenerator: stopperKey };
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
export const KEPT = /^\/v1\/events\/:eventId\/gate(?:\/|$)|^\/(?:healthz|livez|readyz|metrics)$/;

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
