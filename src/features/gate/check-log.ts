import { randomBytes } from 'node:crypto';
import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { deleteInBatches } from '../../platform/queue/keeper.ts';
import { inBatches } from './in-batches.ts';
import { LANES, openOwnPool } from './look-up.ts';
import type { GateAnswer } from './schemas.ts';
import { listEventsWithOldChecks } from './store.ts';

/** Days after the last event day for which lookups are kept that nothing speaks against. */
const CHECKS_KEPT_DAYS = 30;

const PLAIN = `DELETE FROM gate_checks WHERE id IN
  (SELECT id FROM gate_checks WHERE event_id = $2 AND contradicts IS NULL LIMIT $1)`;
const ALL = 'DELETE FROM gate_checks WHERE id IN (SELECT id FROM gate_checks WHERE event_id = $2 LIMIT $1)';

/**
 * Removes lookups of events that are over: 30 days after the last event day those that nothing speaks against, and with
 * the event's personal data (`retentionDays`) all that are left. Returns how many.
 */
export async function removeOldChecks({ db, clock, log }: Deps, signal?: AbortSignal): Promise<number> {
  let removed = 0;
  for (const { eventId, all } of await listEventsWithOldChecks(db.pool, clock.now(), CHECKS_KEPT_DAYS)) {
    if (signal?.aborted === true) break;
    removed += await deleteInBatches(db.pool, { text: all ? ALL : PLAIN, values: [eventId] }, signal);
  }
  if (removed > 0) log.info({ removed }, 'gate lookups were removed whose time was over');
  return removed;
}

interface CheckedAnswer {
  actor: Actor;
  runGroupId: string | undefined;
  answer: GateAnswer;
}

export interface CheckLog {
  /** Resolves when the lookup is in the database. */
  write(check: CheckedAnswer): Promise<void>;
  close(): Promise<void>;
}

const INSERT = {
  name: 'gate-check-insert',
  text: `INSERT INTO gate_checks (id, event_id, car_number, run_group_id, admit, status, asked_by, asked_name, asked_at)
    SELECT * FROM unnest($1::uuid[], $2::uuid[], $3::text[], $4::uuid[], $5::boolean[], $6::text[], $7::uuid[], $8::text[], $9::timestamptz[])`,
};

/**
 * The log of every lookup: who asked, when, what was answered. An answer goes out when its row is written, so there is
 * no "yes" without a record. Rows that arrive while a write runs share the next one, so the log costs one round trip
 * for many lookups. Its own connections commit without waiting for the disk: a power cut may cost the last half second
 * of this log, and nothing else.
 */
export function openCheckLog(deps: Deps): CheckLog {
  const pool = openOwnPool(deps, { name: 'gridworthy-gate-log', options: '-c synchronous_commit=off' });
  const write = inBatches(
    async (checks: readonly CheckedAnswer[]) => {
      await pool.query({ ...INSERT, values: columns(checks) });
      return checks.map(() => undefined);
    },
    { lanes: LANES, most: 100 },
  );
  // Closing waits for the writes that run.
  return { write, close: () => pool.end() };
}

function columns(batch: readonly CheckedAnswer[]): unknown[][] {
  // Asking for random bytes costs the same for one id as for a hundred.
  const random = randomBytes(16 * batch.length);
  return [
    batch.map((_, place) => uuidV7({ random: random.subarray(16 * place, 16 * place + 16) })),
    batch.map(({ answer }) => answer.eventId),
    batch.map(({ answer }) => answer.carNumber),
    batch.map(({ runGroupId }) => runGroupId ?? null),
    batch.map(({ answer }) => answer.admit),
    batch.map(({ answer }) => answer.status),
    batch.map(({ actor }) => actor.tokenId),
    batch.map(({ actor }) => actor.name),
    batch.map(({ answer }) => answer.asOf),
  ];
}
