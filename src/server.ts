import { isTerminal } from './announce.ts';
import { type Config, ConfigError, loadConfig, loggableConfig } from './config.ts';
import { startEmbeddedPostgres } from './platform/database/embedded-postgres.ts';
import { createLogger, type Logger } from './platform/logger.ts';
import { assertDatabaseAnswers, assertPortFree, openProcessLife, type ProcessLife } from './platform/process-life.ts';

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
  const port = config.role === 'worker' ? config.workerPort : config.port;
  if (port !== undefined) await assertPortFree(config.host, port, config.role === 'worker' ? 'WORKER_PORT' : 'PORT');
  // Most of the program is loaded while the database starts: the one waits for a disk, the other works.
  const [databaseUrl, { startServing }] = await Promise.all([
    openDatabaseOf(config, log, life),
    import('./serving.ts'),
  ]);
  await startServing({ config, log, life }, databaseUrl);
}

async function openDatabaseOf(config: Config, log: Logger, life: ProcessLife): Promise<string> {
  if (config.databaseUrl === undefined) return openEmbedded(config, log, life);
  await assertDatabaseAnswers(config.databaseUrl);
  return config.databaseUrl;
}

async function openEmbedded(config: Config, log: Logger, life: ProcessLife): Promise<string> {
  const onUnexpectedEnd = () => life.fail(new Error('the embedded database ended although nobody stopped it'));
  const embedded = await startEmbeddedPostgres({ dataDir: config.dataDir, log, onUnexpectedEnd });
  life.onStop('embedded database', () => embedded.stop());
  return embedded.url;
}

function readConfig(): Config {
  try {
    // The people of a demo are invented, and their addresses may be somebody's.
    const demo = process.argv.includes('--demo') ? { MAIL: 'keep' } : {};
    const config = loadConfig({ ...process.env, ...demo });
    return { ...config, logRequests: config.logRequests ?? !isTerminal() };
  } catch (error) {
    if (!(error instanceof ConfigError)) throw error;
    process.stderr.write(`${error.message}\n`);
    process.exit(2);
  }
}

await main();
