import pg from 'pg';
import type { Deps } from '../../deps.ts';
import { type Pool, surviveLostConnections } from '../../platform/db.ts';

/** Connections of one pool of the gate: what one lookup waits for, the next need not. */
export const LANES = 2;

/** Longest wait of a lookup for the database, in milliseconds; a marshal and a car are waiting for the answer. */
export const GATE_DEADLINE_MS = 2500;
const STATEMENT_MS = 2000;

/**
 * Opens connections that only the gate uses: a marshal never waits behind those who submit or sign off, and is told
 * soon when the database does not answer.
 *
 * @param options settings for the server, in the form of its command line
 */
export function openOwnPool(deps: Deps, { name, options }: { name: string; options?: string }): Pool {
  const { options: settings } = deps.db.pool as unknown as { options: pg.PoolConfig };
  const pool = new pg.Pool({
    ...settings,
    max: LANES,
    connectionTimeoutMillis: STATEMENT_MS,
    statement_timeout: STATEMENT_MS,
    lock_timeout: STATEMENT_MS,
    // On our side too: a database that is frozen cannot time its own statements out.
    query_timeout: STATEMENT_MS,
    application_name: name,
    ...(options === undefined ? {} : { options }),
  });
  surviveLostConnections(pool, (error) => deps.log.warn({ error, pool: name }, 'gate connection lost'));
  return pool;
}
