import { setImmediate } from 'node:timers/promises';
import type { Pool, Tx } from './database/db.ts';
import { atMostEvery, type Logger } from './logger.ts';
import { Prisma } from './prisma-client/client.ts';

/** A clock that goes with the database's. */
export type DatabaseClock = Clock & {
  /** Reads the database's clock, and again every ten seconds. */
  start(): Promise<void>;
  stop(): void;
  /** Reads it once, now. */
  measure(): Promise<void>;
};

const EVERY_MS = 10_000;
const REPORT_EVERY_MS = 600_000;
/** A clock that is off by more is told about. */
const WARN_MS = 2000;
/** An answer that took longer says too little about when the clock was read. */
const SLOW_MS = 500;

/**
 * The database's clock between two readings of it: carried on by the machine's steady clock, so that setting this
 * machine's clock back revives nothing. Before the first reading it is the machine's clock.
 *
 * @param sources of this machine's time, for tests: `wall` milliseconds since 1970, `steady` never goes back
 */
export function openDatabaseClock(
  pool: Pool,
  log: Logger,
  sources: { wall(): number; steady(): number } = { wall: Date.now, steady: () => performance.now() },
): DatabaseClock {
  const { wall, steady } = sources;
  let offset: number | undefined;
  let difference: number | undefined;
  let timer: NodeJS.Timeout | undefined;
  const tell = atMostEvery(REPORT_EVERY_MS, (differenceMs: number) =>
    log.warn({ differenceMs }, 'the clock of this machine differs from the database, which counts: set it right'),
  );
  const fail = atMostEvery(REPORT_EVERY_MS, (error: unknown) =>
    log.warn({ error }, 'the clock of the database cannot be read; going on from the last reading'),
  );
  const measure = async () => {
    const asked = steady();
    const { rows } = await pool.query<{ at: Date }>('SELECT clock_timestamp() AS at');
    const answered = steady();
    const at = rows[0]?.at;
    if (at === undefined || (answered - asked > SLOW_MS && offset !== undefined)) return;
    const halfWay = (answered - asked) / 2;
    offset = at.getTime() - (asked + halfWay);
    difference = Math.round(wall() - halfWay - at.getTime());
    if (Math.abs(difference) > WARN_MS) tell(difference);
  };
  return {
    now: () => new Date(offset === undefined ? wall() : steady() + offset),
    differenceMs: () => difference,
    measure,
    async start() {
      await measure().catch(fail);
      timer ??= setInterval(() => void measure().catch(fail), EVERY_MS).unref();
    },
    stop: () => clearInterval(timer),
  };
}

/** Where the process gets the time from. Tests pass one that they set. */
export type Clock = {
  /** The present instant (UTC). */
  now(): Date;
  /** How far the clock of this process is ahead of the database's, milliseconds; undefined when that is not known. */
  differenceMs?(): number | undefined;
  /** Tests only: what `decisionTime` says instead of the database's clock, or how far it is moved. */
  shift?(): { at: Date } | { milliseconds: number };
};

/** The machine's clock. */
export const systemClock: Clock = { now: () => new Date() };

/**
 * In SQL, the instant of a decision: the database's clock as this statement reads it, whole milliseconds. The two
 * parameters get `decisionTimeValues`. Put it into a statement after the one that locks.
 */
const decisionTimeSql = (at: string, milliseconds: string): string =>
  `COALESCE(${at}::timestamptz, date_trunc('milliseconds', clock_timestamp() + ${milliseconds}::float8 * interval '1 millisecond'))`;

/** What tests move decisions by; nothing for a clock that is not of a test. */
function decisionTimeValues(clock: Clock): [at: Date | null, milliseconds: number] {
  const shift = clock.shift?.();
  if (shift === undefined) return [null, 0];
  return 'at' in shift ? [shift.at, 0] : [null, shift.milliseconds];
}

/** The instant of a decision as an expression of the statement that reads what is decided on, after the one that locks. */
export function decisionTimePart(clock: Clock): Prisma.Sql {
  const [at, milliseconds] = decisionTimeValues(clock);
  return Prisma.sql`COALESCE(${at}::timestamptz,
    date_trunc('milliseconds', clock_timestamp() + ${milliseconds}::float8 * interval '1 millisecond'))`;
}

/**
 * The instant of a decision, by the database's clock. Call it after the lock under which is decided: what was read
 * before may be older than what the lock waited for.
 */
export async function decisionTime(tx: Tx, clock: Clock): Promise<Date> {
  const values = decisionTimeValues(clock);
  const rows = await tx.$queryRawUnsafe<{ at: Date }[]>(`SELECT ${decisionTimeSql('$1', '$2')} AS at`, ...values);
  if (rows[0] === undefined) throw new Error('the database does not say what time it is');
  return rows[0].at;
}

const SLICE_MS = 4;

/** Lets other work of the process run, if this work has had it for 4 ms since it last did; else does nothing. */
export function openBreather(): () => Promise<void> {
  let until = performance.now() + SLICE_MS;
  return async () => {
    if (performance.now() < until) return;
    await setImmediate();
    until = performance.now() + SLICE_MS;
  };
}

/** Runs long work step by step, so that what is urgent does not wait behind it. */
export async function runInSlices<T>(steps: Generator<unknown, T>): Promise<T> {
  const breathe = openBreather();
  for (let step = steps.next(); ; step = steps.next()) {
    if (step.done) return step.value;
    await breathe();
  }
}

/** Resolves after a time, or at once when the signal fires. Never rejects. */
export function pause(milliseconds: number, signal?: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const done = () => {
      clearTimeout(timer);
      signal?.removeEventListener('abort', done);
      resolve();
    };
    const timer = setTimeout(done, milliseconds);
    if (signal?.aborted === true) done();
    else signal?.addEventListener('abort', done, { once: true });
  });
}

/** Whether a task ended within the time. A task that is late goes on; one that fails in time rejects here. */
export function endsWithin(milliseconds: number, task: Promise<unknown>): Promise<boolean> {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(resolve, milliseconds, false);
    const ended = () => {
      clearTimeout(timer);
      resolve(true);
    };
    const failed = (error: unknown) => {
      clearTimeout(timer);
      // as the task rejected, whatever with
      // oxlint-disable-next-line typescript/prefer-promise-reject-errors
      reject(error);
    };
    task.then(ended, failed);
  });
}
