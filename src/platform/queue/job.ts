import type { z } from 'zod';
import type { Logger } from '../logger.ts';

/** What a handler knows about the run it is in. */
export type JobContext = {
  /** Carries `job`, `jobId` and `requestId` on every line. */
  log: Logger;
  jobId: string;
  /** The request that caused the job, or `null` when time did. */
  requestId: string | null;
  /** 1 on the first try. */
  attempt: number;
};

/** How often and how patiently the queue tries a job. */
export type JobPolicy = {
  /** `noun.verb`, for example `claim.expire`. */
  name: string;
  /** Tries in all, at least 1. */
  attempts: number;
  /** Wait before the second try, in milliseconds; doubles with each further one, with jitter. */
  backoffMs: number;
};

/**
 * One kind of job. The payload holds ids, not copies of rows. The handler may run twice for one payload (a crash after
 * the work and before the queue heard of it), so it re-reads, checks the state and writes conditionally.
 */
export type JobDefinition<Deps, P> = JobPolicy & {
  /** A payload that does not parse fails the job for good. */
  payload: z.ZodType<P>;
  /** Throws to be tried again. A call to the outside brings its own `AbortSignal.timeout`. */
  handle(deps: Deps, payload: P, context: JobContext): Promise<void>;
};

/** Types a definition: the handler's payload type follows from the schema. */
export function defineJob<Deps, P>(definition: JobDefinition<Deps, P>): JobDefinition<Deps, P> {
  return definition;
}
