import pg from 'pg';
import { v7 as uuidV7 } from 'uuid';
import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { surviveLostConnections } from '../../platform/db.ts';
import type { GateAnswer } from './schemas.ts';

interface CheckedAnswer {
  actor: Actor;
  runGroupId: string | undefined;
  answer: GateAnswer;
}

interface Waiting extends CheckedAnswer {
  done(): void;
  failed(error: unknown): void;
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
 * for many lookups. Its own connection commits without waiting for the disk: a power cut may cost the last half second
 * of this log, and nothing else.
 */
export function openCheckLog(deps: Deps): CheckLog {
  const { options } = deps.db.pool as unknown as { options: pg.PoolConfig };
  const pool = new pg.Pool({
    ...options,
    max: 1,
    application_name: 'gridworthy-gate-log',
    options: '-c synchronous_commit=off',
  });
  surviveLostConnections(pool, (error) => deps.log.warn({ error }, 'gate log connection lost'));
  let waiting: Waiting[] = [];
  let writing: Promise<void> | undefined;

  async function writeAll(): Promise<void> {
    while (waiting.length > 0) {
      const batch = waiting;
      waiting = [];
      try {
        await pool.query({ ...INSERT, values: columns(batch) });
        for (const check of batch) check.done();
      } catch (error) {
        for (const check of batch) check.failed(error);
      }
    }
    writing = undefined;
  }

  return {
    write(check) {
      return new Promise((done, failed) => {
        waiting.push({ ...check, done, failed });
        writing ??= writeAll();
      });
    },
    async close() {
      await writing;
      await pool.end();
    },
  };
}

function columns(batch: readonly Waiting[]): unknown[][] {
  return [
    batch.map(() => uuidV7()),
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
