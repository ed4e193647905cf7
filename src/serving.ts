import type { FastifyInstance } from 'fastify';
import { applyMigrations } from '../prisma/migrate.ts';
import { announce, isTerminal, printToken } from './announce.ts';
import { API_VERSION, buildApp } from './app.ts';
import type { Config } from './config.ts';
import { openDeps, type Deps } from './deps.ts';
import { ensureOrganizerToken, storeConfiguredToken } from './features/access/bootstrap.ts';
import type { Logger } from './platform/logger.ts';
import { registerWorkerRoutes } from './features/register.ts';
import { portFault, type ProcessLife } from './platform/process-life.ts';
import { startSealer } from './records/history/seal.ts';
import { startJobs } from './worker.ts';

/** What a process is made with. */
export interface Start {
  config: Config;
  log: Logger;
  life: ProcessLife;
}

/** On a database that answers: migrations, then API, worker or both. */
export async function startServing({ config, log, life }: Start, databaseUrl: string): Promise<void> {
  await applyMigrations(databaseUrl, log, { allowNewer: config.allowNewerDatabase });
  const deps = openDeps(config, databaseUrl, log);
  life.onStop('database connections', () => deps.db.close());
  await deps.clock.start();
  life.onStop('clock', async () => deps.clock.stop());
  life.onStop('threads', () => deps.threads.stop());
  const exported = await startExport(deps);
  life.onStop('telemetry', () => exported.stop());
  const sealer = startSealer(deps);
  life.onStop('sealer', () => sealer.stop());
  if (config.role !== 'api') {
    const jobs = startJobs(deps, databaseUrl);
    life.onStop('jobs', () => jobs.stop());
    log.info({ queue: jobs.kind }, 'jobs are running');
    deps.jobs = jobs.here;
  }
  if (config.role === 'worker') await serveWorker(deps, life, exported);
  else await serve(deps, life, exported);
}

interface Exported {
  begin(app: FastifyInstance): void;
  stop(): Promise<void>;
}

/** Traces and metrics for a collector. The SDK is loaded only where one is named: it takes memory and time of the start. */
async function startExport(deps: Deps): Promise<Exported> {
  const { telemetry, role } = deps.config;
  if (!telemetry.traces && !telemetry.metrics) return { begin: () => undefined, stop: async () => undefined };
  const { startTelemetry } = await import('./platform/telemetry/open-telemetry.ts');
  const started = startTelemetry(telemetry, { version: API_VERSION, role });
  deps.tracer = started.tracer;
  return { begin: (app) => started.exportMetrics(() => app.collectMetrics()), stop: () => started.stop() };
}

/** A worker serves nobody; on its port it says how it is, to whoever watches it. */
async function serveWorker(deps: Deps, life: ProcessLife, exported: Exported): Promise<void> {
  const { host, workerPort: port, telemetry } = deps.config;
  if (port === undefined && !telemetry.metrics) return;
  const app = await buildApp(deps, registerWorkerRoutes);
  life.onStop('worker port', () => app.close());
  await app.ready();
  exported.begin(app);
  if (port === undefined) return;
  const address = await listen(app, { host, port, key: 'WORKER_PORT' });
  deps.log.info({ address }, 'the worker answers /readyz and /metrics');
}

async function serve(deps: Deps, life: ProcessLife, exported: Exported): Promise<void> {
  const { config, log } = deps;
  const configured = await useConfiguredToken(deps);
  const app = await buildApp(deps);
  life.onStop('HTTP server', () => app.close());
  // The API document takes a third of a second to make: now, and not when somebody first asks for it.
  await app.inject('/openapi.json');
  exported.begin(app);
  const bound = await listen(app, config);
  const address = config.publicUrl ?? bound;
  // Only who listens shows a token, and a log shows it before it is kept; a terminal in its block at the end.
  const first = await ensureOrganizerToken(deps.db.prisma, isTerminal() ? () => undefined : printToken);
  const said = { address, listening: bound, token: isTerminal() ? first : undefined };
  if (!process.argv.includes('--demo')) return announce(log, said);
  // On a terminal everything stands together at the end; a log says at once that the server answers.
  if (!isTerminal()) announce(log, said);
  const demo = await setUpDemo(deps, { baseUrl: bound, publicUrl: address }, configured ?? first);
  if (isTerminal()) announce(log, { ...said, demo });
  else process.stdout.write(`${demo}\n`);
}

/** The configured token if it works; undefined without one, and when it was revoked. */
async function useConfiguredToken({ config, db, log }: Deps): Promise<string | undefined> {
  const { organizerToken } = config;
  if (organizerToken === undefined) return undefined;
  if ((await storeConfiguredToken(db.prisma, organizerToken)) === 'works') return organizerToken;
  log.warn(
    'ORGANIZER_TOKEN was revoked and does not work: set a new one or leave it out; `npm run token -- organizer` makes one',
  );
  return undefined;
}

async function listen(app: FastifyInstance, at: Parameters<typeof portFault>[1]): Promise<string> {
  try {
    return await app.listen({ host: at.host, port: at.port });
  } catch (error) {
    throw portFault(error, at);
  }
}

type Addresses = { baseUrl: string; publicUrl: string };

async function setUpDemo(deps: Deps, addresses: Addresses, organizerToken: string | undefined): Promise<string> {
  const { runDemoWithServer } = await import('../seed/with-server.ts');
  return runDemoWithServer({ deps, ...addresses, organizerToken });
}
