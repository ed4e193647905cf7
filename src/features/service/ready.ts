import { setTimeout as delay } from 'node:timers/promises';
import { readMigrations } from '../../../prisma/files.ts';
import type { Deps } from '../../deps.ts';
import { ProblemError } from '../../http/problem.ts';
import { listAppliedMigrations } from './store.ts';

// A probe must answer before whoever asks gives up, also when the database is frozen.
const PATIENCE_MS = 2000;
const RETRY = { 'retry-after': '5' };
const NO_ANSWER = Symbol('no answer');

/**
 * Whether requests can be served: the database answers and has every migration of this version.
 *
 * @throws ProblemError `stopping`, `database-unavailable`, `migrations-pending`
 */
export async function assertReady(deps: Deps, stopping: boolean): Promise<void> {
  if (stopping) throw new ProblemError('stopping', 'The server is draining.', {}, RETRY);
  const waiting = new AbortController();
  // Whatever went wrong, the answer is the same: no answer from the database.
  const applied = await Promise.race([
    listAppliedMigrations(deps.db.pool).catch(() => NO_ANSWER),
    delay(PATIENCE_MS, NO_ANSWER, { signal: waiting.signal }).catch(() => NO_ANSWER),
  ]);
  waiting.abort();
  if (!Array.isArray(applied)) {
    throw new ProblemError('database-unavailable', 'The database does not answer.', {}, RETRY);
  }
  const missing = (await readMigrations()).filter(({ name }) => !applied.includes(name)).map(({ name }) => name);
  if (missing.length > 0) {
    throw new ProblemError('migrations-pending', `The database lacks: ${missing.join(', ')}.`, {}, RETRY);
  }
}
