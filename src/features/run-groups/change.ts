import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import type { ParameterOverride } from '../../domain/rules/rule-set.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { decisionTime } from '../../platform/decision-time.ts';
import { type LockedEvent, lockEvent, recordEventChange } from '../../records/event-history.ts';
import { assertNoFaults, sessionFaults, translateNameTaken } from './check.ts';
import type { RunGroupAnswer } from './create.ts';
import { type PreparedRules, prepareRules } from './prepare-rules.ts';
import type { RunGroupChanges } from './schemas.ts';
import {
  countDeclared,
  type EventFrame,
  findEventFrame,
  findRunGroup,
  findVenueOverlay,
  keepResolvedRules,
  type RunGroupData,
  type StoredRunGroup,
  updateRunGroup,
} from './store.ts';
import { inHistory, toRunGroupView } from './view.ts';

interface ChangeRequest {
  eventId: string;
  runGroupId: string;
  ifMatch: string | undefined;
  changes: RunGroupChanges;
  requestId: string;
}

/**
 * Changes the fields that are given, starting from the version the caller read, and writes it into the history of the event. Other rules judge what is declared from
 * now on; once anybody in the group has declared they are taken only from a caller who has seen who would change.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`, `name-taken`,
 *   `preview-needed`
 */
export async function changeRunGroup(deps: Deps, actor: Actor, request: ChangeRequest): Promise<RunGroupAnswer> {
  const { ifMatch, requestId, ...ids } = request;
  const { reason, ...changes } = request.changes;
  const db = deps.db.prisma;
  const event = await findEventFrame(db, ids.eventId);
  const current = await findRunGroup(db, ids.eventId, ids.runGroupId);
  if (event === undefined || current === undefined) throw notFound('run group');
  assertIfMatch(ifMatch, etagOf(current.rev));
  if (Object.keys(changes).length === 0) return { view: toRunGroupView(current, event), rev: current.rev };
  const { wanted, rules } = await applyChanges(deps, actor, { event, current }, changes);
  return inTransaction(db, async (tx) => {
    const locked = await lockEvent(tx, ids.eventId);
    if (locked === undefined) throw notFound('run group');
    if (rules !== undefined) await takeRules(tx, current, rules, wanted, changes.preview);
    // Only if it is still what all this was worked out from.
    const updated = await updateRunGroup(tx, ids.runGroupId, current.rev, wanted);
    if (updated === undefined) {
      const winner = await findRunGroup(tx, ids.eventId, ids.runGroupId);
      throw stale(etagOf(winner?.rev ?? current.rev));
    }
    const at = await decisionTime(tx, deps.clock);
    await tellHistory(tx, locked, { actor, at, before: current, after: updated, reason, requestId });
    return { view: toRunGroupView(updated, event), rev: updated.rev };
  }).catch((error) => translateNameTaken(error, changes.name ?? ''));
}

interface Told {
  actor: Actor;
  at: Date;
  before: StoredRunGroup;
  after: StoredRunGroup;
  reason: string | undefined;
  requestId: string;
}

/** The fields that are another than before, as they were and as they are. */
async function tellHistory(tx: Tx, locked: LockedEvent, told: Told): Promise<void> {
  const { actor, at, before, after, reason, requestId } = told;
  const [was, is] = [inHistory(before), inHistory(after)];
  const keys = (Object.keys(is) as (keyof typeof is)[]).filter(
    (key) => canonicalJson(was[key]) !== canonicalJson(is[key]),
  );
  if (keys.length === 0) return;
  const pick = (one: typeof is) => Object.fromEntries(keys.map((key) => [key, one[key]]));
  const said = reason === undefined ? {} : { reason };
  const data = { runGroupId: after.runGroupId, from: pick(was), to: pick(is), ...said };
  await recordEventChange(tx, locked, { actor, at, action: 'run-group.changed', data, requestId });
}

/** What the group would be with the changes, and its rules when the changes touch them. */
export interface ChangedRunGroup {
  wanted: RunGroupData;
  rules: PreparedRules | undefined;
}

/**
 * Works out a change without storing anything.
 *
 * @throws ProblemError `not-acceptable` naming every place
 */
export async function applyChanges(
  deps: Deps,
  actor: Pick<Actor, 'tokenId'>,
  { event, current }: { event: EventFrame; current: StoredRunGroup },
  changes: RunGroupChanges,
): Promise<ChangedRunGroup> {
  const { runGroupId: _id, eventId: _event, createdAt: _at, rev: _rev, ...stands } = current;
  const { firstSessionAt, parameters = {}, takeVenueRules, preview: _preview, reason: _reason, ...plain } = changes;
  const wanted = {
    ...stands,
    ...plain,
    firstSessionAt: firstSessionAt === undefined ? current.firstSessionAt : new Date(firstSessionAt),
    parameters: mergeOverrides(current.parameters, parameters),
  };
  // The venue's changes are those of one rule set, so another rule set brings its own.
  if (takeVenueRules === true || wanted.ruleSetId !== current.ruleSetId) {
    wanted.venueOverlay = await findVenueOverlay(deps.db.prisma, event.venueId, wanted.ruleSetId);
  }
  const rules = touchesRules(changes) ? await prepareRules(deps, actor, wanted, current) : undefined;
  const faults = rules === undefined || rules.ok ? [] : rules.errors;
  assertNoFaults([...(firstSessionAt === undefined ? [] : sessionFaults(event, wanted)), ...faults]);
  if (rules?.ok !== true) return { wanted, rules: undefined };
  return { wanted: { ...wanted, resolvedHash: rules.hash }, rules };
}

function touchesRules(changes: RunGroupChanges): boolean {
  const { ruleSetId, ruleSetVersion, parameters, overlay, takeVenueRules } = changes;
  return [ruleSetId, ruleSetVersion, parameters, overlay, takeVenueRules].some((change) => change !== undefined);
}

async function takeRules(
  tx: Tx,
  current: StoredRunGroup,
  rules: PreparedRules,
  wanted: RunGroupData,
  preview: string | undefined,
): Promise<void> {
  if (rules.hash === current.resolvedHash) return;
  if (preview !== rules.hash && (await countDeclared(tx, current.runGroupId)) > 0) {
    const path = `/v1/events/${current.eventId}/run-groups/${current.runGroupId}/preview`;
    const detail = `Entrants of this group have declared. POST the change to ${path} first, then send its \`preview\`.`;
    throw new ProblemError('preview-needed', detail, { preview: path });
  }
  const { ruleSetId, ruleSetVersion } = wanted;
  const { hash, origins } = rules;
  await keepResolvedRules(tx, { hash, ruleSetId, ruleSetVersion, document: rules.rules.document, origins });
}

function mergeOverrides(
  current: Readonly<Record<string, ParameterOverride>>,
  changes: NonNullable<RunGroupChanges['parameters']>,
): Record<string, ParameterOverride> {
  const merged = Object.entries({ ...current, ...changes });
  return Object.fromEntries(merged.filter((pair): pair is [string, ParameterOverride] => pair[1] !== null));
}
