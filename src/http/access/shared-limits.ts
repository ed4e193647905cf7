import rateLimit, { type FastifyRateLimitStoreCtor } from '@fastify/rate-limit';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { Redis } from 'ioredis';
import type { Deps } from '../../deps.ts';
import { atMostEvery, type Logger } from '../../platform/logger.ts';
import { callerKey, type Count, countInWindows, KEPT, WINDOW_MS } from './guards.ts';

type Told = (error: Error | null, count?: Count) => void;

/** A request waits no longer for what others have counted. */
const PATIENCE_MS = 50;
/** How long nobody asks a store that did not answer. */
const REST_MS = 1000;
const REPORT_EVERY_MS = 60_000;
/** Before the key of what is counted together. What has none is counted by this process alone. */
const SHARED = 'shared ';
const NAMESPACE = 'gridworthy:limit:';

const COUNT = `local n = redis.call('INCR', KEYS[1])
if n == 1 then redis.call('PEXPIRE', KEYS[1], ARGV[1]) end
return { n, redis.call('PTTL', KEYS[1]) }`;

/**
 * Limits what a caller may ask in a minute. Where processes share a Redis, they count together: nobody waits longer for it than
 * 50 ms, and when it is away each counts by itself, so that nobody is refused for it. What marshals ask, and what stops cars (it has a
 * limit of its own, see `limitStops`), is counted by each process alone and never waits.
 */
export async function installRateLimit(app: FastifyInstance, { config, log }: Deps): Promise<void> {
  const common = { max: config.rateLimitPerMinute, timeWindow: WINDOW_MS };
  if (config.redisUrl === undefined) {
    await app.register(rateLimit, { ...common, keyGenerator: callerKey });
    return;
  }
  const together = countInRedis(config.redisUrl, log);
  app.addHook('onClose', async () => together.close());
  await app.register(rateLimit, {
    ...common,
    keyGenerator: (request: FastifyRequest) =>
      (KEPT.test(request.routeOptions.url ?? '') ? '' : SHARED) + callerKey(request),
    store: storeOf(together),
  });
}

/** Counts here, and with the others where the key says so and there is time for it: who asked more often by either has asked that often. */
function storeOf(together: ReturnType<typeof countInRedis>): FastifyRateLimitStoreCtor {
  return class Store {
    private readonly alone = countInWindows(() => performance.now());
    incr(key: string, told: Told, windowMs = WINDOW_MS): void {
      const here = this.alone(key, windowMs);
      if (!key.startsWith(SHARED)) return told(null, here);
      together.count(NAMESPACE + key.slice(SHARED.length), windowMs).then(
        (all) => told(null, all !== undefined && all.current > here.current ? all : here),
        () => told(null, here),
      );
    }
    child(): Store {
      return new Store();
    }
  };
}

function countInRedis(redisUrl: string, log: Logger) {
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    log.warn({ error }, 'requests are counted by each process alone: Redis does not answer in time'),
  );
  const redis = new Redis(redisUrl, {
    enableOfflineQueue: false,
    maxRetriesPerRequest: 0,
    commandTimeout: PATIENCE_MS,
    retryStrategy: (tries) => Math.min(tries * 100, 2000),
  });
  redis.on('error', report);
  let restsUntil = 0;
  return {
    /** Undefined when it does not answer in time, or did not a moment ago. */
    async count(key: string, windowMs: number): Promise<Count | undefined> {
      if (redis.status !== 'ready' || performance.now() < restsUntil) return undefined;
      try {
        const [current, ttl] = (await redis.eval(COUNT, 1, key, windowMs)) as [number, number];
        return { current, ttl };
      } catch (error) {
        restsUntil = performance.now() + REST_MS;
        report(error);
        return undefined;
      }
    },
    close: () => redis.disconnect(),
  };
}
