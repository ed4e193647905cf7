import { type Actor, personKey } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { stateOf } from '../../records/entry-lock.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { concessionMovedOn, lockConcession } from './lock-concession.ts';
import type { ConcessionView } from './schemas.ts';
import { type StoredConcession, updateApproved } from './store.ts';
import { takeEffect } from './take-effect.ts';
import { viewConcession } from './view.ts';

/**
 * The second person's yes to a concession for a safety-critical rule: from now on it counts.
 *
 * @throws ProblemError `not-found`, `conflict-of-interest`, `second-person-needed` (whoever granted it),
 *   `state-moved-on` (it does not wait for approval, or the entry was withdrawn)
 */
export async function approveConcession(
  deps: Deps,
  actor: Actor,
  input: { concessionId: string; requestId: string },
): Promise<ConcessionView> {
  const { concessionId, requestId } = input;
  const at = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    const { entry, rules, concession, state } = await lockConcession(tx, concessionId, at);
    await assertNoInterest(tx, actor, entry.entryId);
    if (state !== 'awaiting-approval') throw concessionMovedOn(state);
    assertAnotherPerson(actor, concession);
    const approved = await updateApproved(tx, { concessionId, actor, at });
    if (approved === undefined) throw concessionMovedOn(state);
    const data = { concessionId, ruleId: concession.ruleId };
    await takeEffect(tx, entry, approved, { action: 'concession.approved', actor, at, requestId, data });
    return viewConcession(approved, { ...entry, state: stateOf(entry) }, rules, at);
  });
}

/** One person with two tokens is one person. */
function assertAnotherPerson(actor: Actor, { grantedBy, grantedName }: StoredConcession): void {
  if (actor.tokenId !== grantedBy && personKey(actor.name) !== personKey(grantedName)) return;
  throw new ProblemError('second-person-needed', 'You granted this concession; somebody else must approve it.');
}
