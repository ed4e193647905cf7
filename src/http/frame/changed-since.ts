import type { Tx } from '../../platform/database/db.ts';
import { InstantIn, InstantOut } from './common-schemas.ts';

/** Query of a list: only what was written since. */
export const ChangedSince = InstantIn.optional().describe('Only what was changed since: `asOf` of an earlier answer');

/** Says in the answer of a list what to ask for next time. */
export const AsOf = InstantOut.describe(
  'For `changedSince` next time. What changed near it may come twice, and nothing is left out',
);

/** Instants are kept to the millisecond, and clocks of a database step by less. */
const SLACK = '10 milliseconds';

/**
 * The instant before which everything that was written can be read, by the database. Rows are stamped with the beginning of the
 * transaction that writes them and are seen at its end, so it is the beginning of the oldest that runs. Read it before the list.
 */
export async function readAsOf(db: Tx): Promise<string> {
  const [row] = await db.$queryRaw<{ asOf: Date }[]>`
    SELECT least(now(), min(xact_start)) - ${SLACK}::interval AS "asOf"
    FROM pg_stat_activity WHERE datname = current_database() AND backend_type = 'client backend'`;
  // An aggregate without GROUP BY always has its row.
  return (row as { asOf: Date }).asOf.toISOString();
}
