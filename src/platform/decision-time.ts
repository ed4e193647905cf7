import type { Clock } from './clock.ts';
import type { Tx } from './db.ts';
import { Prisma } from './prisma-client/client.ts';

/**
 * In SQL, the instant of a decision: the database's clock as this statement reads it, whole milliseconds. The two
 * parameters get `decisionTimeValues`. Put it into a statement after the one that locks.
 */
export const decisionTimeSql = (at: string, milliseconds: string): string =>
  `COALESCE(${at}::timestamptz, date_trunc('milliseconds', clock_timestamp() + ${milliseconds}::float8 * interval '1 millisecond'))`;

/** What tests move decisions by; nothing for a clock that is not of a test. */
export function decisionTimeValues(clock: Clock): [at: Date | null, milliseconds: number] {
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
