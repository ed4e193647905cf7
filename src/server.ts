import type { FastifyInstance } from 'fastify';
import { applyMigrations } from '../prisma/migrate.ts';
import { announce, isTerminal, printToken } from './announce.ts';
import { buildApp } from './app.ts';
import { type Config, ConfigError, loadConfig, loggableConfig } from './config.ts';
import { openDeps, type Deps } from './deps.ts';
import { ensureOrganizerToken, storeConfiguredToken } from './features/access/bootstrap.ts';
import { startEmbeddedPostgres } from './platform/database/embedded-postgres.ts';
import { createLogger, type Logger } from './platform/logger.ts';
import { openProcessLife, type ProcessLife } from './platform/process-life.ts';
import { startSealer } from './records/history/seal.ts';
import { assertDatabaseAnswers, assertPortFree, portFault } from './platform/start-checks.ts';
import { startJobs } from './worker.ts';

/** One process: database (embedded unless given), migrations, then API, worker or both. */
async function main(): Promise<void> {
  const config = readConfig();
  const log = createLogger({ level: config.logLevel });
  const life = openProcessLife({ log, shutdownSeconds: config.shutdownSeconds });
  try {
    await run(config, log, life);
  } catch (error) {
    life.fail(error);
  }
}

async function run(config: Config, log: Logger, life: ProcessLife): Promise<void> {
  log.debug(loggableConfig(config), 'configuration');
  if (config.role !== 'worker') await assertPortFree(config.host, config.port);
  if (config.databaseUrl !== undefined) await assertDatabaseAnswers(config.databaseUrl);
  const databaseUrl = config.databaseUrl ?? (await openEmbedded(config, log, life));
  await applyMigrations(databaseUrl, log);
  const deps = openDeps(config, databaseUrl, log);
  life.onStop('database connections', () => deps.db.close());
  await deps.clock.start();
  life.onStop('clock', async () => deps.clock.stop());
  life.onStop('threads', () => deps.threads.stop());
  const sealer = startSealer(deps);
  life.onStop('sealer', () => sealer.stop());
  if (config.role !== 'api') {
    const jobs = startJobs(deps, databaseUrl);
    life.onStop('jobs', () => jobs.stop());
    log.info({ queue: jobs.kind }, 'jobs are running');
  }
  if (config.role !== 'worker') await serve(deps, life);
}

async function openEmbedded(config: Config, log: Logger, life: ProcessLife): Promise<string> {
  const onUnexpectedEnd = () => life.fail(new Error('the embedded database ended although nobody stopped it'));
  const embedded = await startEmbeddedPostgres({ dataDir: config.dataDir, log, onUnexpectedEnd });
  life.onStop('embedded database', () => embedded.stop());
  return embedded.url;
}

async function serve(deps: Deps, life: ProcessLife): Promise<void> {
  const { config, log } = deps;
  const configured = await useConfiguredToken(deps);
  const app = await buildApp(deps);
  life.onStop('HTTP server', () => app.close());
  // The API document takes a third of a second to make: now, and not when somebody first asks for it.
  await app.inject('/openapi.json');
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

async function listen(app: FastifyInstance, { host, port }: Config): Promise<string> {
  try {
    return await app.listen({ host, port });
  } catch (error) {
    throw portFault(error, host, port);
  }
}

type Addresses = { baseUrl: string; publicUrl: string };

async function setUpDemo(deps: Deps, addresses: Addresses, organizerToken: string | undefined): Promise<string> {
  const { runDemoWithServer } = await import('../seed/with-server.ts');
  return runDemoWithServer({ deps, ...addresses, organizerToken });
}

function readConfig(): Config {
  try {
    const config = loadConfig(process.env);
    return { ...config, logRequests: config.logRequests ?? !isTerminal() };
  } catch (error) {
    if (!(error instanceof ConfigError)) throw error;
    process.stderr.write(`${error.message}\n`);
    process.exit(2);
  }
}

await main();
