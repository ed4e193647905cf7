import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { devNull, tmpdir } from 'node:os';
import { join } from 'node:path';
import pino from 'pino';
import { applyMigrations } from '../../../prisma/migrate.ts';
import { buildApp } from '../../../src/app.ts';
import { loadConfig } from '../../../src/config.ts';
import { type Deps, openDeps } from '../../../src/deps.ts';
import { ensureOrganizerToken } from '../../../src/features/access/bootstrap.ts';
import { startEmbeddedPostgres } from '../../../src/platform/database/embedded-postgres.ts';
import { createLogger } from '../../../src/platform/logger.ts';
import { listUnsealedEvents, sealBatch } from '../../../src/records/history/seal.ts';
import { signHeads } from '../../../src/records/history/signing.ts';
import { apiClient } from '../../../seed/demo/api-client.ts';
import { demoEventAt } from '../../../seed/demo-data.ts';
import { stageEvent, stageGroups } from '../../../seed/demo/stage.ts';
import { type PlayedClub, playClub } from '../../support/hot-paths.ts';
import { multiplyEvent } from '../../support/multiply.ts';
import { explained } from '../../support/plans.ts';
import { makeClub } from '../writes/club.ts';

/** The service on the database: once as it is, for times, and once with every statement telling its plan. */
export interface Side {
  deps: Deps;
  club: PlayedClub;
  close(): Promise<void>;
}

export interface World {
  url: string;
  plain: Side;
  told: Side;
  /** an event of its own with a thousand declarations */
  large: { eventId: string; ruleSetId: string };
  /** an event for imports: what they enter must not make the measured one larger */
  imports: string;
  stop(): Promise<void>;
}

/** Cars of the event that is measured: all declared, every third signed off. */
export const CARS = 50;
/** So many of them make the thousand of the large event. */
const LARGE = 20;
/** Copies from here on are the background. */
export const BACKGROUND = 10 * LARGE;
/** Few, so that each statement is prepared often enough to get the plan that it keeps. */
const CONNECTIONS = '3';

async function openService(url: string) {
  const config = {
    ...loadConfig({ MAX_LOOP_DELAY_MS: '0', MAX_WAIT_MS: '0', POOL_SIZE: CONNECTIONS }),
    rateLimitPerMinute: 1e6,
  };
  const log = createLogger({ level: 'info', destination: pino.destination({ dest: devNull, sync: true }) });
  const deps = openDeps(config, url, log);
  const app = await buildApp(deps);
  const base = await app.listen({ port: 0, host: '127.0.0.1' });
  const close = async () => {
    await app.close();
    await deps.db.close();
  };
  return { deps, base, close };
}

async function sealAll({ db, ...deps }: Deps): Promise<void> {
  for (const one of await listUnsealedEvents(db.pool)) while (await sealBatch(db.pool, one));
  await signHeads({ db, ...deps }, db.pool);
}

/** An event with its cars on a database of its own, beside it one of a thousand declarations. `watchPlans` comes before. */
export async function openWorld(): Promise<World> {
  const folder = await mkdtemp(join(tmpdir(), 'gridworthy-scale-'));
  await chmod(folder, 0o711);
  const { url, stop } = await startEmbeddedPostgres({
    dataDir: join(folder, 'data'),
    log: createLogger({ level: 'warn' }),
  });
  await applyMigrations(url);
  const [plain, told] = [await openService(url), await openService(explained(url))];
  const organizer = (await ensureOrganizerToken(plain.deps.db.prisma, () => undefined)) ?? '';
  const made = await makeClub({ base: plain.base, organizer }, CARS);
  const club = await playClub({ ...plain, organizer }, made, CARS);
  await sealAll(plain.deps);
  const { eventId } = club;
  await multiplyEvent(url, { eventId, copies: LARGE, perEvent: LARGE, from: LARGE, whole: true });
  const { pool } = plain.deps.db;
  const { rows } = await pool.query<{ eventId: string; ruleSetId: string }>(
    `SELECT g.event_id AS "eventId", min(g.rule_set_id::text) AS "ruleSetId" FROM run_groups g WHERE g.event_id <> $1 GROUP BY 1`,
    [eventId],
  );
  const [large] = rows;
  if (large === undefined) throw new Error('the large event is not there');
  const call = apiClient(plain.base);
  const event = demoEventAt(new Date());
  const imports = await stageEvent(call, organizer, event);
  await stageGroups(call, organizer, imports, event);
  return {
    url,
    imports,
    plain: { ...plain, club },
    told: { ...told, club: { ...club, base: told.base, call: apiClient(told.base) } },
    large,
    async stop() {
      await plain.close();
      await told.close();
      await stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
}
