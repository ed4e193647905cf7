import type { FastifyInstance } from 'fastify';
import { setTimeout as delay } from 'node:timers/promises';
import { z } from 'zod';
import { readMigrations } from '../../../prisma/files.ts';
import type { Deps } from '../../deps.ts';
import { ProblemError } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { endsWithin } from '../../platform/clock.ts';
import type { Pool } from '../../platform/database/db.ts';
import { findLastBackup } from './store.ts';

const Alive = z.object({ status: z.literal('ok').describe('The process answers') }).meta({ id: 'Alive' });

const Ready = z
  .object({
    status: z.literal('ready').describe('The server can do its work'),
    database: z.literal('ok').describe('The database answers and its tables are those of this version'),
    clock: z
      .object({
        differenceMs: z.int().describe('How far the clock of this machine is ahead of the database, milliseconds'),
      })
      .optional()
      .describe('The clock of the database decides; set the machine right when they differ by more than 2 seconds'),
    backup: z
      .enum(['ok', 'late', 'bad'])
      .optional()
      .describe(
        'Where backups are made: `late` when the newest is older than twice the time between two, `bad` when it could not be brought back. It keeps no request from being served; somebody has to look',
      ),
  })
  .meta({ id: 'Ready' });

const APPLIED = {
  name: 'applied-migrations',
  text: `SELECT migration_name FROM public._prisma_migrations
         WHERE finished_at IS NOT NULL AND rolled_back_at IS NULL`,
};

/** Names of the migrations that this database has. @throws when the database does not answer or was never migrated */
async function listAppliedMigrations(pool: Pool): Promise<string[]> {
  const { rows } = await pool.query<{ migration_name: string }>(APPLIED);
  return rows.map((row) => row.migration_name);
}

// A probe must answer before whoever asks gives up, also when the database is frozen.
const PATIENCE_MS = 2000;
const RETRY = { 'retry-after': '5' };
const NO_ANSWER = Symbol('no answer');

/**
 * Whether requests can be served: the database answers and has every migration of this version.
 *
 * @throws ProblemError `stopping`, `database-unavailable`, `migrations-pending`
 */
async function assertReady(deps: Deps, stopping: boolean): Promise<void> {
  if (stopping) throw new ProblemError('stopping', 'The server is draining.', {}, RETRY);
  const waiting = new AbortController();
  // Whatever went wrong, the answer is the same: no answer from the database.
  const applied = await Promise.race([
    listAppliedMigrations(deps.db.pool).catch(() => NO_ANSWER),
    delay(PATIENCE_MS, NO_ANSWER, { signal: waiting.signal }).catch(() => NO_ANSWER),
  ]);
  waiting.abort();
  if (!Array.isArray(applied)) {
    throw new ProblemError('database-unavailable', 'The database does not answer.', {}, RETRY);
  }
  const missing = (await readMigrations()).filter(({ name }) => !applied.includes(name)).map(({ name }) => name);
  if (missing.length > 0) {
    throw new ProblemError('migrations-pending', `The database lacks: ${missing.join(', ')}.`, {}, RETRY);
  }
}

const HOUR_SECONDS = 3600;

/** A worker without its queue does nothing; to everybody else the queue is no matter. */
async function assertQueueAnswers({ config, jobs }: Deps): Promise<void> {
  if (config.role !== 'worker' || jobs === undefined) return;
  const ping = jobs.ping();
  // Observed also when it fails after the time is up.
  ping.catch(() => undefined);
  const answers = await endsWithin(PATIENCE_MS, ping).catch(() => false);
  if (!answers) throw new ProblemError('queue-unavailable', 'The queue does not answer.', {}, RETRY);
}

/** How it stands with the backups of the settings; nothing where none are made by a schedule. */
async function judgeBackup({ config, db }: Deps): Promise<{ backup?: 'ok' | 'late' | 'bad' }> {
  const everyHours = config.backup?.everyHours ?? 0;
  if (everyHours === 0) return {};
  const last = await findLastBackup(db.pool);
  if (last === undefined || last.ageSeconds > 2 * everyHours * HOUR_SECONDS) return { backup: 'late' };
  return { backup: last.good > 0 ? 'ok' : 'bad' };
}

/** Whether the process lives and whether it can do its work, for machines. Everybody may ask; a worker answers it as well. */
export async function healthRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  let stopping = false;
  app.addHook('preClose', async () => {
    stopping = true;
  });
  const common = { tag: 'Service', access: 'public', method: 'GET' } as const;
  for (const [path, operationId] of [
    ['/healthz', 'getHealth'],
    ['/livez', 'getLiveness'],
  ] as const) {
    addRoute(app, {
      ...common,
      path,
      operationId,
      summary: 'Is the process alive?',
      description: 'Never asks the database: a restart does not help when the database is down.',
      success: { 200: { description: 'The process answers', schema: Alive, example: { status: 'ok' } } },
      problems: [],
      handle: async () => ({ status: 200, body: { status: 'ok' } }),
    });
  }
  addRoute(app, {
    ...common,
    path: '/readyz',
    operationId: 'getReadiness',
    summary: 'Can the server do its work?',
    description:
      'Asks the database and looks whether all migrations are there; 503 says what is missing. A proxy sends requests only to a server that is ready.',
    success: {
      200: {
        description: 'It can',
        schema: Ready,
        example: { status: 'ready', database: 'ok', clock: { differenceMs: 3 } },
      },
    },
    problems: ['migrations-pending', 'queue-unavailable'],
    handle: async () => {
      await assertReady(deps, stopping);
      await assertQueueAnswers(deps);
      const differenceMs = deps.clock.differenceMs?.();
      const clock = differenceMs === undefined ? {} : { clock: { differenceMs } };
      const backup = await judgeBackup(deps);
      return { status: 200, body: { status: 'ready', database: 'ok', ...clock, ...backup } };
    },
  });
}
