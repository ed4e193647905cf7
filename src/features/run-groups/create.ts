import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { decisionTime } from '../../platform/decision-time.ts';
import { lockEvent, recordEventChange } from '../../records/event-history.ts';
import { assertNoFaults, sessionFaults, translateNameTaken } from './check.ts';
import { prepareRules } from './prepare-rules.ts';
import type { RunGroupInput, RunGroupView } from './schemas.ts';
import { findEventFrame, findVenueOverlay, insertRunGroup, keepResolvedRules } from './store.ts';
import { inHistory, toRunGroupView } from './view.ts';

export interface RunGroupAnswer {
  view: RunGroupView;
  rev: number;
}

/**
 * Creates a run group with its rules: the version, what the venue changes in it today, what the group changes.
 *
 * @throws ProblemError `not-found` (the event), `not-acceptable`, `name-taken`
 */
export async function createRunGroup(
  deps: Deps,
  actor: Actor,
  { eventId, input, requestId }: { eventId: string; input: RunGroupInput; requestId: string },
): Promise<RunGroupAnswer> {
  const db = deps.db.prisma;
  const event = await findEventFrame(db, eventId);
  if (event === undefined) throw notFound('event');
  const { ruleSetId, ruleSetVersion } = input;
  const venueOverlay = await findVenueOverlay(db, event.venueId, ruleSetId);
  const wanted = { ...input, venueOverlay, firstSessionAt: new Date(input.firstSessionAt) };
  const rules = await prepareRules(deps, actor, wanted);
  assertNoFaults([...sessionFaults(event, wanted), ...(rules.ok ? [] : rules.errors)]);
  if (!rules.ok) throw notFound('rule set');
  const { hash, origins } = rules;
  return inTransaction(db, async (tx) => {
    const locked = await lockEvent(tx, eventId);
    if (locked === undefined) throw notFound('event');
    await keepResolvedRules(tx, { hash, ruleSetId, ruleSetVersion, document: rules.rules.document, origins });
    const stored = await insertRunGroup(tx, eventId, { ...wanted, resolvedHash: hash });
    const data = { runGroupId: stored.runGroupId, to: inHistory(stored) };
    const at = await decisionTime(tx, deps.clock);
    await recordEventChange(tx, locked, { actor, at, action: 'run-group.created', data, requestId });
    return { view: toRunGroupView(stored, event), rev: stored.rev };
  }).catch((error) => translateNameTaken(error, input.name));
}
