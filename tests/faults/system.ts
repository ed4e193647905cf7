import pg from 'pg';
import { signalAll } from './database.ts';
import type { Recorded } from './history.ts';
import type { Member } from './member.ts';
import type { Abilities, Fault, Mode } from './plan.ts';
import { pause } from './request.ts';

/** The service as it runs, with everything that can be done to it. */
export interface System {
  mode: Mode;
  abilities: Abilities;
  /** why some faults cannot be tried here; empty when all can */
  skipped: readonly string[];
  /** addresses of the API */
  bases: readonly string[];
  members: readonly Member[];
  /** address of the database past every proxy; the checker reads there */
  databaseUrl(): Promise<string>;
  /** Does one fault from its begin to its end. The system may need a while after that. */
  inject(fault: Fault): Promise<void>;
  /** what went wrong that no fault explains */
  complaints(): string[];
  close(): Promise<void>;
}

export const ORGANIZER = 'organizer-token-of-the-fault-harness';
export const READY_LINE = 'Gridworthy is ready';
export const WORKER_LINE = 'worker started';
export const TOLD_LINE = 'entrant notified';
/** The log line of a job that is not tried again: what it was for will not be done. */
export const GIVEN_UP_LINE = 'job failed for good';
/** The log line of an answer 500: a fault that the service did not understand. */
export const FAILED_LINE = 'request failed';

/**
 * Settings that every process of a run shares: the rate limit is out of the way, and so are stalls of an overbooked test
 * machine. Load is shed as ever where requests queue.
 */
export const COMMON_ENV = {
  ORGANIZER_TOKEN: ORGANIZER,
  RATE_LIMIT_PER_MINUTE: '1000000',
  MAX_LOOP_DELAY_MS: '0',
  OUTBOX_POLL_MS: '200',
  SHUTDOWN_SECONDS: '10',
};

/** Whether every process says that it is ready and every API that it can serve. */
export async function isWell(system: System): Promise<boolean> {
  if (!system.members.every((member) => member.isReady())) return false;
  const answers = await Promise.all(
    system.bases.map((base) =>
      fetch(`${base}/readyz`, { signal: AbortSignal.timeout(3000) }).then(
        ({ status }) => status === 200,
        () => false,
      ),
    ),
  );
  return answers.every((answer) => answer);
}

/** Waits until the system is well; false when it is not in that time. */
export async function becomesWell(system: System, withinMs: number): Promise<boolean> {
  const deadline = performance.now() + withinMs;
  while (performance.now() < deadline) {
    if (await isWell(system)) return true;
    await pause(50);
  }
  return false;
}

export async function killAndStart(member: Member, downMs: number): Promise<void> {
  await member.end('SIGKILL');
  await pause(downMs);
  member.start();
}

/** A decent stop; says what was wrong with it, if anything. */
export async function stopAndStart(member: Member): Promise<string | undefined> {
  const code = await member.end('SIGTERM');
  member.start();
  return code === 0 ? undefined : `${member.name} ended with ${code} when it was asked to stop`;
}

export async function freeze(pids: () => readonly number[], ms: number): Promise<void> {
  const frozen = pids();
  signalAll(frozen, 'SIGSTOP');
  await pause(ms);
  signalAll(frozen, 'SIGCONT');
}

/**
 * Moves the clock beyond every lease: a lease is at least a minute by the API, so instead of the clock its end is moved.
 * The job that tidies up is moved with it where the queue does not have it yet.
 */
export async function endLeases(databaseUrl: string, record: Recorded): Promise<void> {
  const from = performance.now();
  await withDatabase(databaseUrl, async (client) => {
    const { rows } = await client.query<{ id: string }>(
      `UPDATE claims SET expires_at = now() - interval '1 second' WHERE ended_at IS NULL RETURNING id`,
    );
    await client.query(
      `UPDATE outbox SET run_at = now()
        WHERE name = 'claim.expire' AND published_at IS NULL AND payload->>'claimId' = ANY($1)`,
      [rows.map(({ id }) => id)],
    );
    // Where another fault is at work as well, it may not get through; then it may or may not have happened.
  }).catch(() => undefined);
  record.leaseEnds.push({ from, to: performance.now() });
}

export async function withDatabase<T>(url: string, use: (client: pg.Client) => Promise<T>): Promise<T> {
  const client = new pg.Client({ connectionString: url, connectionTimeoutMillis: 5000, query_timeout: 20_000 });
  client.on('error', () => undefined);
  await client.connect();
  try {
    return await use(client);
  } finally {
    await client.end().catch(() => undefined);
  }
}
