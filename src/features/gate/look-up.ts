import { similarNumbers } from '../../domain/similar-numbers.ts';
import type { Deps } from '../../deps.ts';
import { type Access, actorOf, authorize, unauthenticated } from '../../http/auth.ts';
import { notFound } from '../../http/problem.ts';
import type { CheckLog } from './check-log.ts';
import { decideNumber, unknownNumber } from './decide.ts';
import { inBatches } from './in-batches.ts';
import type { GateAnswer } from './schemas.ts';
import { type Found, listNumbers, lookUpAll, type Question } from './store.ts';

/** What lookups share: the reading for all who ask at once, and the log. */
export interface Gate {
  read(question: Question): Promise<Found>;
  log: CheckLog;
}

export function openGate(deps: Deps, log: CheckLog): Gate {
  const read = inBatches((questions: readonly Question[]) => lookUpAll(deps.db.pool, questions), {
    lanes: 2,
    most: 100,
  });
  return { read, log };
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
  const found = await gate.read({ tokenHash, eventId, carNumber, runGroupId });
  const actor = actorOf(found.token);
  authorize(actor, access, {});
  const now = deps.clock.now();
  const answer =
    found.rows.length > 0
      ? decideNumber({ eventId, carNumber }, found.rows, now)
      : unknownNumber({ eventId, carNumber }, await suggestions(deps, eventId, carNumber), now);
  await gate.log.write({ actor, runGroupId, answer });
  return answer;
}

async function suggestions(deps: Deps, eventId: string, carNumber: string): Promise<string[]> {
  const numbers = await listNumbers(deps.db.pool, eventId);
  if (numbers === undefined) throw notFound('event');
  return similarNumbers(carNumber, numbers);
}
