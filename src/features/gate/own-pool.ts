import pg from 'pg';
import type { Deps } from '../../deps.ts';
import { type Pool, surviveLostConnections } from '../../platform/db.ts';

/** Connections of one pool of the gate: what one lookup waits for, the next need not. */
export const LANES = 2;

/**
 * Opens connections that only the gate uses, with the limits of the others: a marshal never waits behind those who
 * submit or sign off.
 *
 * @param options settings for the server, in the form of its command line
 */
export function openOwnPool(deps: Deps, { name, options }: { name: string; options?: string }): Pool {
  const { options: settings } = deps.db.pool as unknown as { options: pg.PoolConfig };
  const pool = new pg.Pool({
    ...settings,
    max: LANES,
    application_name: name,
    ...(options === undefined ? {} : { options }),
  });
  surviveLostConnections(pool, (error) => deps.log.warn({ error, pool: name }, 'gate connection lost'));
  return pool;
}
