import pg from 'pg';
import type { Deps } from '../../deps.ts';
import { reachesEvent } from '../../domain/actor.ts';
import { similarNumbers } from '../../domain/look-alikes.ts';
import { type Access, actorOf, authorize, unauthenticated } from '../../http/access/auth.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { type Pool, surviveLostConnections } from '../../platform/database/db.ts';
import { endsWithin } from '../../platform/wait.ts';
import type { CheckLog } from './check-log.ts';
import { decideNumber, unknownNumber } from './decide.ts';
import { inBatches } from './in-batches.ts';
import type { GateAnswer } from './schemas.ts';
import { type Found, listNumbers, lookUpAll, type Question } from './store.ts';

/** Connections of one pool of the gate: what one lookup waits for, the next need not. */
export const LANES = 2;

/** Longest wait of a lookup for the database, in milliseconds; a marshal and a car are waiting for the answer. */
const GATE_DEADLINE_MS = 2500;
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

/** What lookups share: connections of their own, the reading for all who ask at once, and the log. */
export interface Gate {
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
