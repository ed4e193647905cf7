import type { Clock } from './clock.ts';
import type { Pool } from './db.ts';
import { atMostEvery, type Logger } from './logger.ts';

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
