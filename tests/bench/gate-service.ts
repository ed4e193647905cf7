import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { devNull, tmpdir } from 'node:os';
import { join } from 'node:path';
import pino from 'pino';
import { applyMigrations } from '../../prisma/migrate.ts';
import { buildApp } from '../../src/app.ts';
import { loadConfig } from '../../src/config.ts';
import { type Deps, openDeps } from '../../src/deps.ts';
import { ensureOrganizerToken } from '../../src/features/access/bootstrap.ts';
import { startEmbeddedPostgres } from '../../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../../src/platform/logger.ts';

/** The service as in production, in this process. */
export interface BenchService {
  base: string;
  deps: Deps;
  organizer: string;
  stop(): Promise<void>;
}

/**
 * Starts the real application on an embedded database of its own, with production settings: durable commits, log
 * level `info` with every line formatted and written at once, only to the null device. The limit of requests per caller is
 * lifted, because one caller makes all the load.
 *
 * @param env settings beside those of production
 */
export async function startBenchService(env: Record<string, string> = {}): Promise<BenchService> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-bench-'));
  await chmod(folder, 0o711);
  const quiet = createLogger({ level: 'warn' });
  const embedded = await startEmbeddedPostgres({ dataDir: join(folder, 'data'), log: quiet });
  await applyMigrations(embedded.url);
  const config = { ...loadConfig(env), rateLimitPerMinute: 1_000_000 };
  const log = createLogger({ level: 'info', destination: pino.destination({ dest: devNull, sync: true }) });
  const deps = openDeps(config, embedded.url, log);
  const token = (await ensureOrganizerToken(deps.db.prisma, () => undefined)) ?? '';
  const app = await buildApp(deps);
  const base = await app.listen({ port: 0, host: '127.0.0.1' });
  return {
    base,
    deps,
    organizer: token,
    async stop() {
      await app.close();
      await deps.db.close();
      await embedded.stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
}
