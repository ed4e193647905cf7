import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { epochMs } from '../../domain/calendar.ts';
import { type Timetable, withFirstAt } from '../../domain/log/timetable.ts';
import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/headers.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { appendOutbox } from '../../platform/queue/outbox.ts';
import { type LockedEvent, lockEvent, recordEventChange } from '../../records/history/event-history.ts';
import {
  assertNoFaults,
  isOnEventDay,
  type PreparedRules,
  prepareRules,
  sessionFaults,
  translateNameTaken,
} from './run-group-rules.ts';
import { timetableJob } from './times-moved.job.ts';
import type { RunGroupChanges, RunGroupInput, RunGroupView } from './run-group-schemas.ts';
import {
  countDeclared,
  type EventFrame,
  findEventFrame,
  findRunGroup,
  findVenueOverlay,
  insertRunGroup,
  keepResolvedRules,
  listRunGroups,
  type RunGroupData,
  type StoredRunGroup,
  updateRunGroup,
} from './run-group-store.ts';

interface ChangeRequest {
  eventId: string;
  runGroupId: string;
  ifMatch: string | undefined;
  changes: RunGroupChanges & { sessions?: Timetable };
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
    await recordChange(tx, locked, { actor, at, before: current, after: updated, reason, requestId });
    if (timesMoved(current, updated)) {
      await appendOutbox(tx, timetableJob({ eventId: ids.eventId, seq: locked.historySeq, requestId }));
    }
    return { view: toRunGroupView(updated, event), rev: updated.rev };
  }).catch((error) => translateNameTaken(error, changes.name ?? ''));
}

/** Whether conditions whose due time is that of a session may have another one now. */
const timesMoved = (before: RunGroupData, after: RunGroupData): boolean =>
  before.firstSessionAt.getTime() !== after.firstSessionAt.getTime() ||
  canonicalJson(before.sessions) !== canonicalJson(after.sessions);

interface Change {
  actor: Actor;
  at: Date;
  before: StoredRunGroup;
  after: StoredRunGroup;
  reason: string | undefined;
  requestId: string;
}

/** The fields that are another than before, as they were and as they are. */
async function recordChange(tx: Tx, locked: LockedEvent, change: Change): Promise<void> {
  const { actor, at, before, after, reason, requestId } = change;
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
  changes: ChangeRequest['changes'],
): Promise<ChangedRunGroup> {
  const { runGroupId: _id, eventId: _event, createdAt: _at, rev: _rev, wet: _wet, ...stands } = current;
  const {
    firstSessionAt: _first,
    parameters = {},
    takeVenueRules,
    preview: _preview,
    reason: _reason,
    ...plain
  } = changes;
  const wanted = {
    ...stands,
    ...plain,
    ...timesOf(current, changes),
    parameters: mergeOverrides(current.parameters, parameters),
  };
  // The venue's changes are those of one rule set, so another rule set brings its own.
  if (takeVenueRules === true || wanted.ruleSetId !== current.ruleSetId) {
    wanted.venueOverlay = await findVenueOverlay(deps.db.prisma, event.venueId, wanted.ruleSetId);
  }
  const rules = touchesRules(changes) ? await prepareRules(deps, actor, wanted, current) : undefined;
  const faults = rules === undefined || rules.ok ? [] : rules.errors;
  const asksForTimes = changes.firstSessionAt !== undefined || changes.sessions !== undefined;
  assertNoFaults([...(asksForTimes ? sessionFaults(event, wanted) : []), ...faults]);
  if (rules?.ok !== true) return { wanted, rules: undefined };
  return { wanted: { ...wanted, resolvedHash: rules.hash }, rules };
}

/** The first session and the timetable go together: another first session moves the first one, a timetable names it. */
function timesOf(
  current: StoredRunGroup,
  { firstSessionAt, sessions }: ChangeRequest['changes'],
): Pick<RunGroupData, 'firstSessionAt' | 'sessions'> {
  if (sessions !== undefined) {
    const [first] = sessions;
    return {
      sessions,
      firstSessionAt: first === undefined ? current.firstSessionAt : new Date(epochMs(first.startsAt)),
    };
  }
  if (firstSessionAt === undefined) return { sessions: current.sessions, firstSessionAt: current.firstSessionAt };
  const first = new Date(firstSessionAt);
  // Where it does not fit, the check says so.
  return { firstSessionAt: first, sessions: withFirstAt(current.sessions, first) ?? current.sessions };
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
  const wanted = { ...input, venueOverlay, firstSessionAt: new Date(input.firstSessionAt), sessions: [] };
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

/** @throws ProblemError `not-found` (the event) */
export async function readRunGroups(deps: Deps, eventId: string): Promise<RunGroupView[]> {
  const event = await findEventFrame(deps.db.prisma, eventId);
  if (event === undefined) throw notFound('event');
  const groups = await listRunGroups(deps.db.prisma, eventId);
  return groups.map((group) => toRunGroupView(group, event));
}

/** @throws ProblemError `not-found` */
export async function readRunGroup(deps: Deps, ids: { eventId: string; runGroupId: string }): Promise<RunGroupAnswer> {
  const event = await findEventFrame(deps.db.prisma, ids.eventId);
  const group = await findRunGroup(deps.db.prisma, ids.eventId, ids.runGroupId);
  if (event === undefined || group === undefined) throw notFound('run group');
  return { view: toRunGroupView(group, event), rev: group.rev };
}

function toRunGroupView(stored: StoredRunGroup, event: EventFrame): RunGroupView {
  const { rev: _rev, venueOverlay: _venue, resolvedHash: rulesHash, ...group } = stored;
  return {
    ...group,
    rulesHash,
    firstSessionAt: group.firstSessionAt.toISOString(),
    sessions: [...group.sessions],
    firstSessionOnEventDay: isOnEventDay(group.firstSessionAt, event),
    createdAt: group.createdAt.toISOString(),
  };
}

/** What stands in the history of the event; `resolvedHash` covers the effects, rules and venue's changes of the group. */
function inHistory(group: RunGroupData) {
  const { name, order, firstSessionAt, sessions, ruleSetId, ruleSetVersion, parameters, resolvedHash } = group;
  const session = firstSessionAt.toISOString();
  return { name, order, firstSessionAt: session, sessions, ruleSetId, ruleSetVersion, parameters, resolvedHash };
}
