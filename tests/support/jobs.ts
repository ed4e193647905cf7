import type { Deps } from '../../src/deps.ts';
import type { JobContext, JobDefinition } from '../../src/platform/queue/job.ts';
import { createLogger } from '../../src/platform/logger.ts';
import type { TestApp } from './app.ts';
import { ordered } from './records.ts';

/** What a handler is told in tests that run it by hand. */
export const JOB_CONTEXT: JobContext = {
  log: createLogger({ level: 'silent' }),
  jobId: 'outbox-1',
  requestId: 'request-1',
  attempt: 1,
};

/** Runs the jobs of one kind that a request ordered, as the worker does: the payload is parsed first. */
export async function runOrdered<P>(
  t: TestApp,
  answer: { headers: Record<string, string> },
  job: JobDefinition<Deps, P>,
): Promise<void> {
  const jobs = (await ordered(t, answer)).filter((one) => one.name === job.name);
  if (jobs.length === 0) throw new Error(`the request ordered no ${job.name}`);
  for (const { payload } of jobs) await job.handle(t.deps, job.payload.parse(payload), JOB_CONTEXT);
}
