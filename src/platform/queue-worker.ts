import { UnrecoverableError } from 'bullmq';
import type { JobDefinition } from './job.ts';
import { atMostEvery, type Logger } from './logger.ts';
import {
  type QueueDriver,
  type QueuedJob,
  REPORT_EVERY_MS,
  type WorkerHandle,
  type WorkerTuning,
} from './queue-driver.ts';
import { endsWithin, pause } from './wait.ts';

export type WorkerSettings = WorkerTuning & {
  /** How long `close` waits for running jobs, in milliseconds; what still runs then is taken over by another worker. */
  closeTimeoutMs: number;
  /** Told after each job that its handler finished; when it fails, the job is tried again. */
  onDone?: (jobId: string) => Promise<void>;
};

type Plan<Deps> = {
  driver: QueueDriver;
  jobs: readonly JobDefinition<Deps, unknown>[];
  deps: Deps;
  settings: Partial<WorkerSettings>;
  log: Logger;
};

const DEFAULTS: WorkerSettings = {
  concurrency: 10,
  lockDuration: 30_000,
  stalledInterval: 15_000,
  closeTimeoutMs: 15_000,
};
const CONNECT_RETRY_MS = 1000;
/** With no job running, only connections are left to close; a queue that is away never confirms that. */
const IDLE_CLOSE_MS = 1000;

/** Runs jobs until closed; connects in the background and keeps trying while the queue is down. */
export function startQueueWorker<Deps>(plan: Plan<Deps>): { close(): Promise<void> } {
  const { closeTimeoutMs, onDone: _, ...tuning } = { ...DEFAULTS, ...plan.settings };
  const closing = new AbortController();
  const running = new Set<Promise<void>>();
  const starting = connect(plan, { tuning, running, closing: closing.signal });
  return {
    async close() {
      closing.abort();
      const worker = await starting;
      if (worker === undefined) return;
      const wound = windUp(worker.close(), running);
      // Observed also when nobody waits for it any more.
      wound.catch(() => undefined);
      if (!(await endsWithin(closeTimeoutMs, wound))) {
        plan.log.warn('jobs still run at the stop; another worker will take them over');
      } else if (!(await wound)) plan.log.warn('the queue does not answer at the stop');
    },
  };
}

/** Waits for what runs and for the queue; not for a queue that stays silent while nothing runs: then it is false. */
async function windUp(closed: Promise<unknown>, running: ReadonlySet<Promise<void>>): Promise<boolean> {
  while (!(await endsWithin(IDLE_CLOSE_MS, closed))) {
    if (running.size === 0) return false;
    await Promise.race([closed, Promise.allSettled(running)]);
  }
  return true;
}

interface Life {
  tuning: WorkerTuning;
  /** the jobs that run */
  running: Set<Promise<void>>;
  closing: AbortSignal;
}

async function connect<Deps>(plan: Plan<Deps>, { tuning, running, closing }: Life) {
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) => plan.log.warn({ error }, 'queue is not reachable'));
  while (!closing.aborted) {
    try {
      await plan.driver.ready();
      if (closing.aborted) break;
      const process = processorOf(plan);
      const worker = plan.driver.makeWorker((queued) => noted(running, process(queued)), tuning);
      watch(worker, plan.log, closing);
      plan.log.info({ queue: plan.driver.kind, jobs: plan.jobs.length }, 'worker started');
      return worker;
    } catch (error) {
      report(error);
      await pause(CONNECT_RETRY_MS, closing);
    }
  }
  return undefined;
}

async function noted(running: Set<Promise<void>>, job: Promise<void>): Promise<void> {
  running.add(job);
  try {
    await job;
  } finally {
    running.delete(job);
  }
}

function processorOf<Deps>({ jobs, deps, settings, log }: Plan<Deps>) {
  const byName = new Map(jobs.map((job) => [job.name, job]));
  return async (queued: QueuedJob): Promise<void> => {
    const { requestId } = queued.data;
    const jobId = queued.id ?? '';
    const jobLog = log.child({ job: queued.name, jobId, requestId });
    const definition = byName.get(queued.name);
    // Not for good: a newer version of this service may have stored it, and its own worker knows what to do.
    if (definition === undefined) throw new Error(`no handler for job "${queued.name}"`);
    const payload = definition.payload.safeParse(queued.data.payload);
    if (!payload.success) throw new UnrecoverableError(`payload of "${queued.name}": ${payload.error.message}`);
    const startedAt = performance.now();
    await definition.handle(deps, payload.data, { log: jobLog, jobId, requestId, attempt: queued.attemptsMade + 1 });
    await settings.onDone?.(jobId);
    jobLog.info({ durationMs: Math.round(performance.now() - startedAt) }, 'job done');
  };
}

function watch(worker: WorkerHandle, log: Logger, closing: AbortSignal): void {
  const report = atMostEvery(REPORT_EVERY_MS, (error: Error) => log.warn({ error }, 'worker trouble, goes on trying'));
  worker.on('error', (error) => {
    if (!closing.aborted) report(error);
  });
  worker.on('stalled', (jobId) => log.warn({ jobId }, 'job was lost by its worker and starts again'));
  worker.on('failed', (job, error) => {
    const fields = {
      job: job?.name,
      jobId: job?.id,
      requestId: job?.data.requestId,
      attempts: job?.attemptsMade,
      error,
    };
    const forGood =
      job === undefined || error instanceof UnrecoverableError || job.attemptsMade >= (job.opts.attempts ?? 1);
    if (forGood) log.error(fields, 'job failed for good');
    else log.warn(fields, 'job failed and will be tried again');
  });
}
