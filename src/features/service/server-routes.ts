import type { FastifyInstance } from 'fastify';
import { openPlace } from '../../backup/place.ts';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { BACKUP_MAKE } from './backup.job.ts';
import { readBacklog } from './metrics-store.ts';
import { JobOrdered, jobParams, queueState, SERVER_EXAMPLE, ServerView } from './server-schemas.ts';
import { findJob, isJobOpen, listBackups, listFailedJobs, listWorkers, takeFailedJob } from './server-store.ts';

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
