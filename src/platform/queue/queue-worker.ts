import { DelayedError, UnrecoverableError } from 'bullmq';
import { findCollision, isDatabaseDown } from '../database/db.ts';
import { asSpan, parseTraceparent, type Tracer } from '../telemetry/trace.ts';
import type { JobMeters } from './job-meters.ts';
import type { JobDefinition } from './job.ts';
import { atMostEvery, type Logger } from '../logger.ts';
import {
  type Processor,
  type QueueDriver,
  REPORT_EVERY_MS,
  type WorkerHandle,
  type WorkerTuning,
} from './queue-driver.ts';
import { endsWithin, pause } from '../clock.ts';

export type WorkerSettings = WorkerTuning & {
  /** How long `close` waits for running jobs, in milliseconds; what still runs then is taken over by another worker. */
  closeTimeoutMs: number;
  /** How long a job waits that met no database, in milliseconds, and how often that is not held against it. */
  awayPauseMs: number;
  awayPauses: number;
  /** Told after each job that its handler finished; when it fails, the job is tried again. */
  onDone?: (jobId: string) => Promise<void>;
  /** Told after a job that failed for good; when it fails, that is reported and nothing else. */
  onFailed?: (jobId: string, reason: string) => Promise<void>;
  meters?: JobMeters;
  tracer?: Tracer | undefined;
};

type Plan<Deps> = {
  driver: QueueDriver;
  jobs: readonly JobDefinition<Deps, unknown>[];
  deps: Deps;
  settings: Partial<WorkerSettings>;
  log: Logger;
};
type FullPlan<Deps> = Plan<Deps> & { settings: WorkerSettings };

const DEFAULTS: WorkerSettings = {
  concurrency: 10,
  lockDuration: 30_000,
  stalledInterval: 15_000,
  // A job loses its worker also when the database or Redis goes away under it: that is no fault of the job. One that
  // ends its process every time must still end some day.
  maxStalledCount: 20,
  closeTimeoutMs: 15_000,
  awayPauseMs: 5000,
  // Half a day.
  awayPauses: 8640,
};
const CONNECT_RETRY_MS = 1000;
/** With no job running, only connections are left to close; a queue that is away never confirms that. */
const IDLE_CLOSE_MS = 1000;

/** Runs jobs until closed; connects in the background and keeps trying while the queue is down. */
export function startQueueWorker<Deps>(plan: Plan<Deps>): { close(): Promise<void> } {
  const settings = { ...DEFAULTS, ...plan.settings };
  const { closeTimeoutMs, concurrency, lockDuration, stalledInterval, maxStalledCount } = settings;
  const tuning = { concurrency, lockDuration, stalledInterval, maxStalledCount };
  const closing = new AbortController();
  const running = new Set<Promise<void>>();
  const starting = connect({ ...plan, settings }, { tuning, running, closing: closing.signal });
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

async function connect<Deps>(plan: FullPlan<Deps>, { tuning, running, closing }: Life) {
  const report = atMostEvery(REPORT_EVERY_MS, (error: unknown) => plan.log.warn({ error }, 'queue is not reachable'));
  while (!closing.aborted) {
    try {
      await plan.driver.ready();
      if (closing.aborted) break;
      const process = measured(plan.settings.meters, patiently(plan, traced(plan.settings.tracer, processorOf(plan))));
      const worker = plan.driver.makeWorker((queued, token) => noted(running, process(queued, token)), tuning);
      watch(worker, plan, closing);
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

function measured(meters: JobMeters | undefined, process: Processor): Processor {
  if (meters === undefined) return process;
  return async (queued, token) => {
    const end = meters.begin(queued.name);
    try {
      await process(queued, token);
      end('done');
    } catch (error) {
      end(error instanceof DelayedError ? 'waits' : 'failed');
      throw error;
    }
  };
}

/** Each try is a span of the trace that ordered the job. */
function traced(tracer: Tracer | undefined, process: Processor): Processor {
  return (queued, token) => {
    const attributes = { 'messaging.operation.type': 'process', 'messaging.destination.name': queued.name };
    const parent = parseTraceparent(queued.data.trace);
    return asSpan(tracer, { name: queued.name, kind: 'consumer', parent, attributes }, () => process(queued, token));
  };
}

/** A database that is away or busy is no failure of the job: it waits, and keeps its attempts for what it does wrong. */
function patiently<Deps>(
  { settings: { awayPauseMs, awayPauses }, log }: FullPlan<Deps>,
  process: Processor,
): Processor {
  return async (queued, token) => {
    try {
      await process(queued, token);
    } catch (error) {
      const passing = isDatabaseDown(error) || findCollision(error) !== undefined;
      if (!passing || queued.attemptsStarted > awayPauses) throw error;
      // A queue on the same database is away as well; then the job is found without a sign of life.
      await queued.moveToDelayed(Date.now() + awayPauseMs, token);
      log.warn({ job: queued.name, jobId: queued.id, error }, 'job waits for the database');
      throw new DelayedError();
    }
  };
}

function processorOf<Deps>({ jobs, deps, settings, log }: FullPlan<Deps>): Processor {
  const byName = new Map(jobs.map((job) => [job.name, job]));
  return async (queued) => {
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

function watch<Deps>(worker: WorkerHandle, { log, settings }: FullPlan<Deps>, closing: AbortSignal): void {
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
    if (!forGood) return log.warn(fields, 'job failed and will be tried again');
    log.error(fields, 'job failed for good');
    if (job?.id === undefined) return;
    settings.onFailed?.(job.id, error.message).catch((cause: unknown) => {
      log.warn({ jobId: job.id, error: cause }, 'that a job failed for good could not be noted');
    });
  });
}
