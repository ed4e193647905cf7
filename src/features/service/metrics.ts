import type { FastifyInstance, FastifyReply, FastifyRequest, preSerializationHookHandler } from 'fastify';
import { timingSafeEqual } from 'node:crypto';
import { Readable } from 'node:stream';
import { setTimeout as delay } from 'node:timers/promises';
import { collectDefaultMetrics, Counter, Gauge, Histogram, Registry } from 'prom-client';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { CLEARANCE_STATUSES } from '../../domain/clearance/clearance.ts';
import { type Access, authenticate, authorize, hashToken, tokenHashOf } from '../../http/access/auth.ts';
import { addRoute } from '../../http/frame/route.ts';
import type { Pool } from '../../platform/database/db.ts';
import { type Backlog, findLastBackup, type LastBackup, readBacklog } from './store.ts';

/** Seconds; an answer at the gate takes a few thousandths, an upload some tenths. */
const BUCKETS = [0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10];
const PREFIX = 'gridworthy_';

/** What one process counts. Labels have few values each: never an address, an id, a number or a name. */
type Meters = ReturnType<typeof createMeters>;

export function createMeters() {
  const registry = new Registry();
  const registers = [registry];
  const gauge = <T extends string = never>(name: string, help: string, labelNames: readonly T[] = []) =>
    new Gauge<T>({ name: PREFIX + name, help, labelNames, registers });
  const lookups = new Counter({
    name: `${PREFIX}gate_lookups_total`,
    help: 'Answers at the gate to one car number, by what they said',
    labelNames: ['status'],
    registers,
  });
  // A status that was never answered reads 0 and not nothing, so that a first one shows as a rise.
  for (const status of [...CLEARANCE_STATUSES, 'unknown']) lookups.inc({ status }, 0);
  return {
    registry,
    lookups,
    durations: new Histogram({
      name: `${PREFIX}http_request_duration_seconds`,
      help: 'Time to answer, by route pattern and class of status; live streams are left out',
      labelNames: ['method', 'route', 'status'],
      buckets: BUCKETS,
      registers,
    }),
    streams: gauge('streams_open', 'Live streams that are open'),
    database: gauge('database_up', '1 when the database answered this scrape, 0 when it did not'),
    backlog: {
      waiting: gauge('outbox_waiting_rows', 'Jobs that the queue has not taken yet'),
      failing: gauge('outbox_failing_rows', 'Of these, jobs that the queue failed to take at least once'),
      oldestWaitingSeconds: gauge('outbox_oldest_waiting_seconds', 'Age of the oldest of these'),
      unfinished: gauge('jobs_unfinished_rows', 'Jobs that are due, taken by the queue and not done'),
      oldestUnfinishedSeconds: gauge('jobs_oldest_unfinished_seconds', 'For how long the oldest of these is due'),
      failed: gauge('jobs_failed_rows', 'Jobs of the last 30 days that failed for good'),
    } satisfies Record<keyof Backlog, Gauge>,
    lastBackup: {
      ageSeconds: gauge(
        'backup_age_seconds',
        'Since the newest backup was begun that was finished; NaN when there is none',
      ),
      bytes: gauge('backup_bytes', 'Its size'),
      good: gauge(
        'backup_good',
        '1 when it was brought back into a scratch database, 0.5 when only read to its end, 0 when neither',
      ),
      failedSince: gauge('backup_failed_since', 'Tries since then that ended without a backup'),
    } satisfies Record<keyof LastBackup, Gauge>,
    connections: gauge('db_connections', 'Database connections of the shared pool', ['state']),
    connectionsMax: gauge('db_connections_max', 'Most connections of the shared pool'),
    connectionWaiters: gauge('db_connection_waiters', 'Who waits for a connection of the shared pool'),
    build: gauge('build_info', '1, with what is running', ['version', 'node']),
  };
}

/** Event loop delay, memory, garbage collection, file handles: measured from now on. */
function watchProcess({ registry }: Meters): void {
  collectDefaultMetrics({ register: registry });
}

function setPool({ connections, connectionsMax, connectionWaiters }: Meters, pool: Pool): void {
  connections.set({ state: 'in-use' }, pool.totalCount - pool.idleCount);
  connections.set({ state: 'idle' }, pool.idleCount);
  connectionsMax.set(pool.options.max);
  connectionWaiters.set(pool.waitingCount);
}

/** @param found undefined when the database did not answer: what is unknown reads NaN, not 0 */
function setBacklog({ backlog, database }: Meters, found: Backlog | undefined): void {
  database.set(found === undefined ? 0 : 1);
  for (const [name, meter] of Object.entries(backlog)) meter.set(found?.[name as keyof Backlog] ?? Number.NaN);
}

/** @param found undefined when there is none, or the database did not answer: NaN */
function setLastBackup({ lastBackup }: Meters, found: LastBackup | undefined): void {
  for (const [name, meter] of Object.entries(lastBackup)) meter.set(found?.[name as keyof LastBackup] ?? Number.NaN);
}

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
  const { method, route } = url === undefined ? NO_ROUTE : { method: request.method, route: url };
  const status = `${Math.floor(reply.statusCode / 100)}xx`;
  durations.observe({ method, route, status }, reply.elapsedTime / 1000);
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
  app.decorate('collectMetrics', async () => {
    setPool(meters, deps.db.pool);
    const [backlog, backup] = await Promise.all([
      withinPatience(readBacklog(deps.db.pool)),
      withinPatience(findLastBackup(deps.db.pool)),
    ]);
    setBacklog(meters, backlog);
    setLastBackup(meters, backup);
    meters.build.set({ version: app.swagger().info.version, node: process.version }, 1);
    return deps.jobs === undefined ? [meters.registry] : [meters.registry, deps.jobs.registry];
  });
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
      const parts = await app.collectMetrics();
      const body = spellNaN((await Promise.all(parts.map((part) => part.metrics()))).join('\n'));
      const headers = { 'content-type': Registry.PROMETHEUS_CONTENT_TYPE };
      return { status: 200, body, headers };
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

declare module 'fastify' {
  interface FastifyInstance {
    /** what the process measures, brought up to date; of jobs as well where it runs them */
    collectMetrics(): Promise<readonly Registry[]>;
  }
}
