import type { Job, JobsOptions } from 'bullmq';

export const QUEUE_NAME = 'gridworthy';

/** A connection that stays down reports once in this time, not at every try. */
export const REPORT_EVERY_MS = 10_000;

/** What a queued job holds. */
export type JobData = { payload: unknown; requestId: string | null };

export type QueuedJob = Pick<
  Job<JobData>,
  'id' | 'name' | 'data' | 'attemptsMade' | 'attemptsStarted' | 'opts' | 'moveToDelayed'
>;

/** Runs one job; `token` is the right to it. */
export type Processor = (job: QueuedJob, token?: string) => Promise<void>;

/** The part of BullMQ's `Queue` that we use; the same on both stores. */
export type QueueHandle = {
  add(name: string, data: JobData, options: JobsOptions): Promise<unknown>;
  on(event: 'error', listener: (error: Error) => void): unknown;
  close(): Promise<void>;
};

/** The part of BullMQ's `Worker` that we use. */
export type WorkerHandle = {
  on(event: 'error', listener: (error: Error) => void): unknown;
  on(event: 'failed', listener: (job: QueuedJob | undefined, error: Error) => void): unknown;
  on(event: 'stalled', listener: (jobId: string) => void): unknown;
  close(force?: boolean): Promise<void>;
};

export type WorkerTuning = {
  concurrency: number;
  /** How long a job may go without a sign of life before another worker takes it, in milliseconds. */
  lockDuration: number;
  /** How often jobs without a sign of life are looked for, in milliseconds. */
  stalledInterval: number;
  /** How often a job may lose its worker before it is given up for good. */
  maxStalledCount: number;
};

/** One store for the queue. */
export type QueueDriver = {
  kind: 'postgres' | 'redis';
  /** Resolves when the store can be used; rejects soon when it cannot. May be called again. */
  ready(): Promise<void>;
  makeQueue(): QueueHandle;
  makeWorker(processor: Processor, tuning: WorkerTuning): WorkerHandle;
  ping(): Promise<void>;
  close(): Promise<void>;
};
