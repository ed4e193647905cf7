import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { openPlace } from '../../backup/place.ts';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { BACKUP_MAKE } from './backup.job.ts';
import {
  type Backlog,
  findJob,
  isJobOpen,
  listBackups,
  listFailedJobs,
  listWorkers,
  readBacklog,
  takeFailedJob,
} from './store.ts';

export const QUEUE_STATES = ['working', 'nobody', 'stuck', 'late'] as const;
/** How it stands with the jobs. */
export type QueueState = (typeof QUEUE_STATES)[number];

/** The queue takes what is ordered within seconds. Common practice, no source. */
const STUCK_SECONDS = 60;
/** The longest jobs (trials, imports of a whole list) are done within minutes. Common practice, no source. */
const LATE_SECONDS = 600;

/** @param workers processes that are connected to run jobs */
export function queueState(workers: number, backlog: Backlog): QueueState {
  if (workers === 0) return 'nobody';
  if (backlog.failing > 0 || backlog.oldestWaitingSeconds > STUCK_SECONDS) return 'stuck';
  return backlog.oldestUnfinishedSeconds > LATE_SECONDS ? 'late' : 'working';
}

const jobParams = z.strictObject({ jobId: Id.describe('The job') });

const MaybeInstant = z.string().nullable().describe('Instant, RFC 3339 in UTC');

const KeptBackup = z.object({
  name: z.string().describe('Name of the file'),
  place: z.string().describe('Folder or bucket'),
  startedAt: InstantOut,
  finishedAt: MaybeInstant,
  bytes: z.number().nullable().describe('Size'),
  encrypted: z.boolean().describe('With the passphrase'),
  verified: z
    .string()
    .nullable()
    .describe('`restored`: brought back into a scratch database; `read`: only read to its end; null: neither yet'),
  error: z.string().nullable().describe('What was wrong'),
  removedAt: MaybeInstant.describe('When it made room for newer ones'),
});

const ServerView = z
  .object({
    asOf: InstantOut,
    version: z.string().describe('Of this server'),
    workers: z.array(z.object({ since: InstantOut })).describe('Processes that run jobs, and since when'),
    queue: z
      .object({
        kind: z.enum(['postgres', 'redis']).describe('Where jobs wait'),
        state: z
          .enum(QUEUE_STATES)
          .describe(
            '`nobody` runs jobs; `stuck`: the queue does not take them; `late`: one is due for over 10 minutes',
          ),
        waiting: z.int().describe('Jobs that the queue has not taken yet'),
        failing: z.int().describe('Of these, jobs that it failed to take'),
        oldestWaitingSeconds: z.number().describe('Age of the oldest of these'),
        unfinished: z.int().describe('Jobs that are due and not done'),
        oldestUnfinishedSeconds: z.number().describe('For how long the oldest is due'),
        failed: z.int().describe('Jobs of the last 30 days that failed for good'),
      })
      .describe('What waits between a request and what it ordered'),
    failedJobs: z
      .array(
        z.object({
          jobId: Id,
          name: z.string().describe('What it does, `noun.verb`'),
          orderedAt: InstantOut,
          failedAt: InstantOut,
          reason: z.string().nullable().describe('What went wrong at its last try'),
        }),
      )
      .describe('Newest first, at most 100'),
    backups: z
      .object({
        place: z.string().nullable().describe('Where they are kept; null: this server keeps none'),
        everyHours: z.int().describe('0: only when told to'),
        keep: z.int().describe('How many'),
        making: z.boolean().describe('One is ordered or being made'),
        newest: z.array(KeptBackup).describe('Newest first, at most 10; also those that came to nothing'),
      })
      .describe('Backups'),
  })
  .meta({ id: 'ServerView' });
type ServerView = z.infer<typeof ServerView>;

const SERVER_EXAMPLE: ServerView = {
  asOf: '2026-06-13T05:40:00.000Z',
  version: '0.2.0',
  workers: [{ since: '2026-06-12T18:00:00.000Z' }],
  queue: {
    kind: 'postgres',
    state: 'working',
    waiting: 0,
    failing: 0,
    oldestWaitingSeconds: 0,
    unfinished: 1,
    oldestUnfinishedSeconds: 0.4,
    failed: 1,
  },
  failedJobs: [
    {
      jobId: '019ab8f0-0000-7000-8000-0000000000f1',
      name: 'webhook.deliver',
      orderedAt: '2026-06-12T18:10:00.000Z',
      failedAt: '2026-06-12T20:10:00.000Z',
      reason: 'no answer within 15 s',
    },
  ],
  backups: {
    place: '/var/backups/gridworthy',
    everyHours: 24,
    keep: 14,
    making: false,
    newest: [
      {
        name: 'gridworthy-20260612T200000Z.backup',
        place: '/var/backups/gridworthy',
        startedAt: '2026-06-12T20:00:00.000Z',
        finishedAt: '2026-06-12T20:00:04.000Z',
        bytes: 1_204_224,
        encrypted: false,
        verified: 'restored',
        error: null,
        removedAt: null,
      },
    ],
  },
};

const JobOrdered = z.object({ jobId: Id.describe('The job that was ordered') }).meta({ id: 'JobOrdered' });

const MOST_JOBS = 100;
const MOST_BACKUPS = 10;
const iso = (at: Date) => at.toISOString();
const isoOrNull = (at: Date | null) => at?.toISOString() ?? null;

/** How the server is: who runs jobs, what waits, what failed, and the backups. */
async function getServer(deps: Deps, version: string): Promise<ServerView> {
  const { config, db, clock } = deps;
  const [workers, backlog, failed, newest, making] = await Promise.all([
    listWorkers(db.pool),
    readBacklog(db.pool),
    listFailedJobs(db.pool, MOST_JOBS),
    listBackups(db.pool, MOST_BACKUPS),
    isJobOpen(db.prisma, BACKUP_MAKE),
  ]);
  const plan = config.backup;
  return {
    asOf: iso(clock.now()),
    version,
    workers: workers.map((since) => ({ since: iso(since) })),
    queue: {
      kind: config.redisUrl === undefined ? 'postgres' : 'redis',
      state: queueState(workers.length, backlog),
      ...backlog,
    },
    failedJobs: failed.map(({ orderedAt, failedAt, ...job }) => ({
      ...job,
      orderedAt: iso(orderedAt),
      failedAt: iso(failedAt),
    })),
    backups: {
      place: plan === undefined ? null : openPlace(plan).address,
      everyHours: plan?.everyHours ?? 0,
      keep: plan?.keep ?? 0,
      making,
      newest: newest.map(({ startedAt, finishedAt, removedAt, ...backup }) => ({
        ...backup,
        startedAt: iso(startedAt),
        finishedAt: isoOrNull(finishedAt),
        removedAt: isoOrNull(removedAt),
      })),
    },
  };
}

/**
 * Orders a backup.
 *
 * @throws ProblemError `state-moved-on`: none is kept here, or one is being made
 */
async function orderBackup(deps: Deps, requestId: string): Promise<string> {
  if (deps.config.backup === undefined) {
    const detail = 'This server keeps no backups: whoever runs it sets BACKUP_TO.';
    throw new ProblemError('state-moved-on', detail, { currentState: 'off' });
  }
  return inTransaction(deps.db.prisma, async (tx) => {
    // Two at once order one.
    await tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtext(${BACKUP_MAKE}))`;
    if (await isJobOpen(tx, BACKUP_MAKE)) {
      throw new ProblemError('state-moved-on', 'One is ordered or being made.', { currentState: 'making' });
    }
    return appendOutbox(tx, { name: BACKUP_MAKE, payload: {}, requestId });
  });
}

/**
 * Orders a job anew that failed for good. It gets another id: the queue remembers the old one as failed, and would not
 * take it.
 *
 * @throws ProblemError `not-found`, `state-moved-on`
 */
async function runAgain(deps: Deps, actor: Actor, ordered: { jobId: string; requestId: string }): Promise<string> {
  const { jobId, requestId } = ordered;
  const found = await inTransaction(deps.db.prisma, async (tx) => {
    const job = await takeFailedJob(tx, jobId);
    if (job !== undefined) return { ...job, id: await appendOutbox(tx, { ...job, requestId }) };
    if ((await findJob(tx, jobId)) === undefined) throw notFound('job');
    const detail = 'Only a job that failed for good can be ordered again; this one waits, runs or is done.';
    throw new ProblemError('state-moved-on', detail, { currentState: 'not-failed' });
  });
  deps.log.info({ job: found.name, was: jobId, jobId: found.id, by: actor.tokenId }, 'a failed job was ordered again');
  return found.id;
}

const DESCRIPTION = `Which processes run jobs, what waits, which jobs failed for good and why, and the newest backups. Where nobody runs jobs,
entrants submit and the gate answers as before: what is late are messages, trials and imports.`;

const common = { tag: 'Service', access: ['organizer'] } as const;
const ordered = (description: string) => ({
  202: { description, schema: JobOrdered, example: { jobId: '019ab8f0-0000-7000-8000-0000000000f2' } },
});

/** For whoever runs the event and is asked whether the server is well. */
export async function serverRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/server',
    operationId: 'getServer',
    summary: 'Read how the server is: workers, queue, failed jobs, backups',
    description: DESCRIPTION,
    success: { 200: { description: 'As of now', schema: ServerView, example: SERVER_EXAMPLE } },
    problems: [],
    handle: async () => ({ status: 200, body: await getServer(deps, app.swagger().info.version) }),
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/server/backups',
    operationId: 'makeBackup',
    summary: 'Make a backup now',
    description: 'A worker makes it and brings it back once; `GET /server` says what came of it.',
    success: ordered('Ordered'),
    problems: ['state-moved-on'],
    handle: async ({ request }) => ({ status: 202, body: { jobId: await orderBackup(deps, request.id) } }),
  });
  addRoute(app, {
    ...common,
    method: 'POST',
    path: '/server/jobs/:jobId/again',
    operationId: 'runJobAgain',
    summary: 'Order a job again that failed for good',
    description: 'Look at its `reason` first: what is not mended fails again. Every job is safe to run twice.',
    params: jobParams,
    success: ordered('Ordered, under a new id'),
    problems: ['not-found', 'state-moved-on'],
    handle: async ({ params, actor, request }) => ({
      status: 202,
      body: { jobId: await runAgain(deps, actor, { jobId: params.jobId, requestId: request.id }) },
    }),
  });
}
