import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { assertNoFaults, sessionFaults, translateNameTaken } from './check.ts';
import { prepareRules } from './prepare-rules.ts';
import type { RunGroupInput, RunGroupView } from './schemas.ts';
import { findEventFrame, findVenueOverlay, insertRunGroup, keepResolvedRules } from './store.ts';
import { toRunGroupView } from './view.ts';

export interface RunGroupAnswer {
  view: RunGroupView;
  rev: number;
}

/**
 * Creates a run group with its rules: the version, what the venue changes in it today, what the group changes.
 *
 * @throws ProblemError `not-found` (the event), `not-acceptable`, `name-taken`
 */
export async function createRunGroup(deps: Deps, eventId: string, input: RunGroupInput): Promise<RunGroupAnswer> {
  return inTransaction(deps.db.prisma, async (tx) => {
    const event = await findEventFrame(tx, eventId);
    if (event === undefined) throw notFound('event');
    const venueOverlay = await findVenueOverlay(tx, event.venueId, input.ruleSetId);
    const wanted = { ...input, venueOverlay, firstSessionAt: new Date(input.firstSessionAt) };
    const rules = await prepareRules(tx, wanted);
    assertNoFaults([...sessionFaults(event, wanted), ...(rules.ok ? [] : rules.errors)]);
    if (!rules.ok) throw notFound('rule set');
    await keepResolvedRules(tx, { ...rules, ruleSetId: input.ruleSetId, ruleSetVersion: input.ruleSetVersion });
    const stored = await insertRunGroup(tx, eventId, { ...wanted, resolvedHash: rules.hash });
    return { view: toRunGroupView(stored, event), rev: stored.rev };
  }).catch((error) => translateNameTaken(error, input.name));
}
