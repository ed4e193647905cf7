import { keepBackups } from './backup/kept-backups.ts';
import type { Deps, JobsHere } from './deps.ts';
import { inspectionNotifyJob } from './features/declare/submit.ts';
import { removeOldImports } from './features/entries/import/import-task-store.ts';
import { importJob } from './features/entries/import/import.job.ts';
import { removeOldChecks } from './features/gate/look-up.ts';
import { claimExpireJob, clearanceExpireJob, conditionDueJob, signOffNotifyJob } from './features/line/fall-due.job.ts';
import { followLines } from './features/line/times/told.ts';
import { mailByTheClock } from './features/notify/mail/order.ts';
import { mailSendJob, mailWriteJob } from './features/notify/mail/send.job.ts';
import { webhookDeliverJob, webhookFanOutJob } from './features/notify/webhook.job.ts';
import { removeOldDeliveries } from './features/notify/delivery-store.ts';
import { eraseOverdue } from './features/personal-data/erase.ts';
import { removeOrphanPhotos } from './features/declare/photos/read.ts';
import { daysChangedJob, timetableMovedJob } from './features/set-up/times-moved.job.ts';
import { rejudgeJob } from './features/rules/trials/rejudge.job.ts';
import { backupMakeJob } from './features/service/backup.job.ts';
import { trialJob } from './features/rules/trials/trial.job.ts';
import { purgeIdempotency } from './http/frame/idempotency.ts';
import { createJobMeters } from './platform/queue/job-meters.ts';
import { type Chore, hourly, type JobDefinition, startKeeper } from './platform/queue/job.ts';
import { openLead } from './platform/queue/lead.ts';
import { startRelay } from './platform/queue/outbox-relay.ts';
import { giveUpOldRows, markDone, markFailed, purgeEndedRows, reviveLostRows } from './platform/queue/outbox.ts';
import { openQueue } from './platform/queue/queue.ts';
import { notifyEntrantJob } from './records/notify-entrant.ts';

/** Of each second that a stop may take, what jobs get to finish. */
const JOBS_SHARE_MS = 300;

/** The part of the process that runs jobs: the outbox relay and the queue's worker. */
interface JobRunner {
  kind: 'postgres' | 'redis';
  here: JobsHere;
  /** Stops taking work, waits for what runs (bounded), then closes the queue. */
  stop(): Promise<void>;
}

/** Starts relay and worker. A queue that is down does not keep it from starting: it catches up when the queue is back. */
export function startJobs(deps: Deps, databaseUrl: string): JobRunner {
  const { config, log } = deps;
  const queue = openQueue({ databaseUrl, redisUrl: config.redisUrl, policies: JOBS, log });
  const { pool } = deps.db;
  const meters = createJobMeters(JOBS.map(({ name }) => name));
  const worker = queue.startWorker(JOBS, deps, {
    onDone: (jobId) => markDone(pool, jobId),
    onFailed: (jobId, reason) => markFailed(pool, jobId, reason),
    meters,
    tracer: deps.tracer,
    // Requests under way may have taken half of the time before, and the database wants to be closed after.
    closeTimeoutMs: config.shutdownSeconds * JOBS_SHARE_MS,
  });
  const relay = startRelay({ pool, queue, log, pollMs: config.outboxPollMs, clock: deps.clock });
  const lead = openLead({ pool, log });
  // The folder of the photos is a matter of each machine.
  const tidyPhotos = hourly((signal) => removeOrphanPhotos(deps, signal));
  const keeper = startKeeper([...lead.only(choresOf(deps)), tidyPhotos], log);
  // Beside the other chores, which must not wait for it, and alone by a lock of its own: not every worker may have a place.
  const backups = startKeeper(config.backup === undefined ? [] : [keepBackups(config.backup, deps)], log);
  return {
    kind: queue.kind,
    here: { registry: meters.registry, ping: () => queue.ping() },
    async stop() {
      await Promise.all([keeper.stop(), backups.stop()]);
      await lead.stop();
      await relay.stop();
      await worker.close();
      await queue.close();
    },
  };
}

/** What is done from time to time by one process of all, by the name under which they agree on which. */
function choresOf(deps: Deps): Record<string, Chore> {
  const { pool } = deps.db;
  return {
    'lost-jobs': () => reviveLostRows(pool),
    'late-jobs': hourly(() => giveUpOldRows(pool)),
    'ended-jobs': hourly((signal) => purgeEndedRows(pool, signal)),
    'line-times': (signal) => followLines(deps, signal),
    'used-keys': (signal) => purgeIdempotency(pool, signal),
    // A worker without mail must not lead those that have it.
    ...(deps.config.mail.mode === 'off' ? {} : { mail: hourly((signal) => mailByTheClock(deps, signal)) }),
    deliveries: hourly((signal) => removeOldDeliveries(deps, signal)),
    'gate-checks': hourly((signal) => removeOldChecks(deps, signal)),
    imports: hourly((signal) => removeOldImports(deps, signal)),
    names: hourly((signal) => eraseOverdue(deps, signal)),
  };
}

/** Every job there is. What is not listed here cannot be run, and the relay refuses to add it. */
export const JOBS = [
  inspectionNotifyJob,
  signOffNotifyJob,
  notifyEntrantJob,
  mailWriteJob,
  mailSendJob,
  claimExpireJob,
  conditionDueJob,
  clearanceExpireJob,
  daysChangedJob,
  timetableMovedJob,
  rejudgeJob,
  trialJob,
  backupMakeJob,
  importJob,
  webhookFanOutJob,
  webhookDeliverJob,
  // Each parses its own payload before its handler sees it, so the list may forget the payload types.
] as unknown as readonly JobDefinition<Deps, unknown>[];
