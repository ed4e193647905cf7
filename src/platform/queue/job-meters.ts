import { Gauge, Histogram, Registry } from 'prom-client';

/** How one try of a job ended: `waits` for a database that is away, which is no try that counts. */
export type JobOutcome = 'done' | 'failed' | 'waits';

/** What a process that runs jobs counts of them. */
export interface JobMeters {
  registry: Registry;
  /** Notes that a job begins; the function that is returned notes how it ended. */
  begin(name: string): (outcome: JobOutcome) => void;
}

/** Seconds; most jobs take a few hundredths, imports and trials minutes. */
const BUCKETS = [0.01, 0.05, 0.1, 0.5, 1, 5, 15, 60, 300];

/**
 * Meters of jobs by name and outcome, in a registry of their own.
 *
 * @param names every job there is; each reads 0 before it first ran, so that a first failure shows as a rise
 */
export function createJobMeters(names: readonly string[]): JobMeters {
  const registry = new Registry();
  const durations = new Histogram({
    name: 'gridworthy_job_duration_seconds',
    help: 'Time that a try of a job took in this process, by job and how it ended',
    // `job` is the collector's own word for whom it collects from.
    labelNames: ['name', 'outcome'],
    buckets: BUCKETS,
    registers: [registry],
  });
  const running = new Gauge({
    name: 'gridworthy_jobs_running',
    help: 'Jobs that this process works on',
    registers: [registry],
  });
  for (const name of names) for (const outcome of ['done', 'failed']) durations.zero({ name, outcome });
  return {
    registry,
    begin(name) {
      const startedAt = performance.now();
      running.inc();
      return (outcome) => {
        running.dec();
        durations.observe({ name, outcome }, (performance.now() - startedAt) / 1000);
      };
    },
  };
}
