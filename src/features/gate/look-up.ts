import { randomBytes } from 'node:crypto';
import pg from 'pg';
import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../deps.ts';
import { type Actor, reachesEvent } from '../../domain/actor.ts';
import { similarNumbers } from '../../domain/look-alikes.ts';
import { type Access, actorOf, authorize, unauthenticated } from '../../http/access/auth.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { type Pool, surviveLostConnections } from '../../platform/database/db.ts';
import { deleteInBatches } from '../../platform/queue/job.ts';
import { endsWithin } from '../../platform/clock.ts';
import { decideNumber, unknownNumber } from './decide.ts';
import type { GateAnswer } from './schemas.ts';
import { type Found, listEventsWithOldChecks, listNumbers, lookUpAll, type Question } from './store.ts';

/** Connections of one pool of the gate: what one lookup waits for, the next need not. */
const LANES = 2;

/** Longest wait of a lookup for the database, in milliseconds; a marshal and a car are waiting for the answer. */
const GATE_DEADLINE_MS = 2500;
const STATEMENT_MS = 2000;

/**
 * Opens connections that only the gate uses: a marshal never waits behind those who submit or sign off, and is told
 * soon when the database does not answer.
 *
 * @param options settings for the server, in the form of its command line
 */
function openOwnPool(deps: Deps, { name, options }: { name: string; options?: string }): Pool {
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

/** What lookups share: connections of their own, the reading for all who ask at once, and the log. */
interface Gate {
  pool: Pool;
  read(question: Question): Promise<Found>;
  log: CheckLog;
}

export function openGate(deps: Deps, log: CheckLog): Gate {
  const pool = openOwnPool(deps, { name: 'gridworthy-gate' });
  const read = inBatches((questions: readonly Question[]) => lookUpAll(pool, questions, deps.clock.now()), {
    lanes: LANES,
    most: 100,
  });
  return { pool, read, log };
}

/**
 * The gate's answer for a car number, exactly as typed. It is read and decided at each lookup; nothing is cached, so
 * a hold of a moment ago counts. Every answer is logged before it goes out.
 *
 * @throws ProblemError `unauthenticated`, `forbidden`, `not-found` (event); any failure of ours is no admission either
 */
export async function lookUpNumber(
  deps: Deps,
  gate: Gate,
  access: Access,
  asked: { tokenHash: Buffer | null; eventId: string; carNumber: string; runGroupId: string | undefined },
): Promise<GateAnswer> {
  const { tokenHash, eventId, carNumber, runGroupId } = asked;
  if (tokenHash === null) throw unauthenticated();
  const answering = answerOf(deps, gate, access, { tokenHash, eventId, carNumber, runGroupId });
  // Several waits may follow one another: for a connection, for the questions in front, for the log.
  if (!(await endsWithin(GATE_DEADLINE_MS, answering))) {
    answering.catch(() => undefined);
    deps.log.error({ eventId }, 'a gate lookup got no answer from the database in time');
    throw new ProblemError('database-unavailable', 'The database does not answer.', {}, { 'retry-after': '2' });
  }
  return answering;
}

async function answerOf(deps: Deps, gate: Gate, access: Access, asked: Question): Promise<GateAnswer> {
  const { tokenHash, eventId, carNumber, runGroupId } = asked;
  const found = await gate.read({ tokenHash, eventId, carNumber, runGroupId });
  const actor = actorOf(found.token);
  authorize(actor, access, {});
  if (!reachesEvent(actor, eventId)) throw notFound('event');
  const now = deps.clock.now();
  const answer =
    found.rows.length > 0
      ? decideNumber({ eventId, carNumber }, found, now)
      : unknownNumber(
          { eventId, carNumber },
          { near: found.near, similar: await suggestions(gate.pool, eventId, carNumber) },
          now,
        );
  await gate.log.write({ actor, runGroupId, answer });
  return answer;
}

async function suggestions(pool: Pool, eventId: string, carNumber: string): Promise<string[]> {
  const numbers = await listNumbers(pool, eventId);
  if (numbers === undefined) throw notFound('event');
  return similarNumbers(carNumber, numbers);
}

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

interface CheckLog {
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

interface Waiting<In, Out> {
  item: In;
  done(result: Out): void;
  failed(error: unknown): void;
}

/**
 * Makes one round trip do for all who ask at the same time. While a lane is free, what has arrived goes off at once;
 * what arrives later goes together as soon as a lane is free again. The work for an item always starts after it was
 * asked for: nothing is answered from an earlier reading.
 *
 * @param work gives one result per item, in their order; when it fails, every item of that batch fails
 * @param options `lanes` batches of at most `most` items run side by side, so that one that hangs does not stop the rest
 */
export function inBatches<In, Out>(
  work: (items: readonly In[]) => Promise<readonly Out[]>,
  { lanes, most }: { lanes: number; most: number },
): (item: In) => Promise<Out> {
  const waiting: Waiting<In, Out>[] = [];
  let busy = 0;

  async function lane(): Promise<void> {
    while (waiting.length > 0) await settle(waiting.splice(0, most), work);
    // In the same turn as the look at the list, or an item could slip in between and wait for ever.
    busy -= 1;
  }

  return (item) =>
    new Promise((done, failed) => {
      waiting.push({ item, done, failed });
      if (busy >= lanes) return;
      busy += 1;
      // After all requests that came with this one were read.
      setImmediate(() => void lane());
    });
}

async function settle<In, Out>(
  batch: readonly Waiting<In, Out>[],
  work: (items: readonly In[]) => Promise<readonly Out[]>,
): Promise<void> {
  try {
    const results = await work(batch.map(({ item }) => item));
    if (results.length !== batch.length) throw new Error(`${batch.length} were asked, ${results.length} answered`);
    for (const [place, { done }] of batch.entries()) done(results[place] as Out);
  } catch (error) {
    for (const { failed } of batch) failed(error);
  }
}
