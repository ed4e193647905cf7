import type { FastifyInstance, FastifyReply, FastifyRequest, preSerializationHookHandler } from 'fastify';
import { timingSafeEqual } from 'node:crypto';
import { Readable } from 'node:stream';
import { setTimeout as delay } from 'node:timers/promises';
import { Registry } from 'prom-client';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Access, authenticate, authorize, hashToken, tokenHashOf } from '../../http/access/auth.ts';
import { addRoute } from '../../http/frame/route.ts';
import { createMeters, type Meters, setBacklog, setLastBackup, setPool, watchProcess } from './metrics.ts';
import { findLastBackup, readBacklog } from './metrics-store.ts';

const GATE_LOOKUP = '/v1/events/:eventId/gate/:carNumber';
const STREAM = '/v1/events/:eventId/stream';
/** For addresses that no route has, whatever they are. */
const NO_ROUTE = { method: '(any)', route: '(none)' };

/** Counts every answer of the application. Call it before routes are registered. */
function observeAnswers(app: FastifyInstance, meters: Meters): void {
  const streaming = new WeakSet<object>();
  app.addHook('onResponse', (request, reply, done) => {
    // A stream takes as long as somebody looks at it, which says nothing about this server.
    if (!streaming.has(reply)) observe(meters, request, reply);
    done();
  });
  // Only these two routes pay for it.
  app.addHook('onRoute', (route) => {
    if (route.url === GATE_LOOKUP) route.preSerialization = countLookup(meters);
    if (route.url !== STREAM || route.method !== 'GET') return;
    route.onSend = (_request, reply, payload, done) => {
      if (payload instanceof Readable) {
        streaming.add(reply);
        meters.streams.inc();
        reply.raw.once('close', () => meters.streams.dec());
      }
      done(null, payload);
    };
  });
}

function observe({ durations }: Meters, request: FastifyRequest, reply: FastifyReply): void {
  const { url } = request.routeOptions;
  const labels = url === undefined ? NO_ROUTE : { method: request.method, route: url };
  durations.observe({ ...labels, status: `${Math.floor(reply.statusCode / 100)}xx` }, reply.elapsedTime / 1000);
}

function countLookup({ lookups }: Meters): preSerializationHookHandler {
  return (_request, _reply, payload, done) => {
    const { status } = payload as { status?: unknown };
    if (typeof status === 'string') lookups.inc({ status });
    done(null, payload);
  };
}

const READERS: Access = ['organizer'];
/** A scrape must be answered before its collector gives up, also when the database is frozen. */
const PATIENCE_MS = 2000;

const Exposition = z.string().describe('Prometheus text format 0.0.4').meta({ id: 'Metrics' });
const EXAMPLE = `# HELP gridworthy_streams_open Live streams that are open
# TYPE gridworthy_streams_open gauge
gridworthy_streams_open 12
`;

const DESCRIPTION = `For a collector, every 10 seconds or slower. Send \`METRICS_TOKEN\` of the configuration as a bearer
token: it reads this and nothing else, and works while the database is down. An organizer token works too. One process
tells of itself only; several are collected one by one, not through a load balancer. Nothing in it names a person, a
car or an event.`;

/** What this process measures. Call it before other features, so that their answers are counted. */
export async function metricsRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const meters = createMeters();
  observeAnswers(app, meters);
  app.addHook('onListen', async () => watchProcess(meters));
  const isCollector = collectorCheck(deps.config.metricsToken);
  addRoute(app, {
    method: 'GET',
    path: '/metrics',
    operationId: 'getMetrics',
    summary: 'Read what this process measures',
    description: DESCRIPTION,
    tag: 'Service',
    access: READERS,
    authenticatesItself: true,
    success: { 200: { description: 'As of now', schema: Exposition, contentType: 'text/plain', example: EXAMPLE } },
    problems: [],
    handle: async ({ request }) => {
      if (!isCollector(request)) {
        authorize(await authenticate(deps.db.pool, tokenHashOf(request), deps.clock.now()), READERS, {});
      }
      setPool(meters, deps.db.pool);
      const [backlog, backup] = await Promise.all([
        withinPatience(readBacklog(deps.db.pool)),
        withinPatience(findLastBackup(deps.db.pool)),
      ]);
      setBacklog(meters, backlog);
      setLastBackup(meters, backup);
      meters.build.set({ version: app.swagger().info.version, node: process.version }, 1);
      const headers = { 'content-type': Registry.PROMETHEUS_CONTENT_TYPE };
      return { status: 200, body: spellNaN(await meters.registry.metrics()), headers };
    },
  });
}

/** The package writes `Nan`; the format knows `NaN` only. */
function spellNaN(text: string): string {
  return text.replaceAll(/ Nan$/gm, ' NaN');
}

/** Both sides are hashes, so that neither length nor content shows in the time it takes. */
function collectorCheck(token: string | undefined): (request: FastifyRequest) => boolean {
  const wanted = token === undefined ? undefined : hashToken(token);
  return (request) => {
    const sent = tokenHashOf(request);
    return wanted !== undefined && sent !== null && timingSafeEqual(wanted, sent);
  };
}

/** Undefined when it fails or takes too long: that the database does not answer is one of the things to be told. */
async function withinPatience<T>(task: Promise<T>): Promise<T | undefined> {
  const waiting = new AbortController();
  const late = delay(PATIENCE_MS, undefined, { signal: waiting.signal }).catch(() => undefined);
  const found = await Promise.race([task.catch(() => undefined), late]);
  waiting.abort();
  return found;
}
