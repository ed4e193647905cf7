import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { epochMs, plainDateAt } from '../../domain/calendar.ts';
import { timetableFaults } from '../../domain/log/timetable.ts';
import type { GroupOverlay, Origins, Overlay } from '../../domain/rules/overlay/overlay.ts';
import { inThread, URGENCY } from '../../http/body/in-thread.ts';
import { type FieldError, nameFaults, ProblemError } from '../../http/frame/problem.ts';
import { isUniqueViolation } from '../../platform/database/db.ts';
import { resolveRulesTask, type SentRules } from '../../records/judging/rules.task.ts';
import { type EventFrame, findPublishedRuleSet, type RunGroupData } from './run-group-store.ts';

/** What decides the rules of a run group. */
type WantedRules = Pick<RunGroupData, 'ruleSetId' | 'ruleSetVersion' | 'parameters' | 'overlay' | 'venueOverlay'>;

/** The rules as they will judge the group, by the hash of everything that decides them. */
export interface PreparedRules {
  ok: true;
  hash: string;
  rules: SentRules;
  origins: Origins;
}

/** Where the layers of a run group stand in the body of its requests. */
const PLACES: Readonly<Record<string, string>> = { parameters: '/parameters', effects: '/overlay', rules: '/overlay' };

function toFieldError(fault: {
  from: 'venue' | 'run-group';
  pointer: string;
  code: string;
  detail: string;
}): FieldError {
  const { from, pointer, code, detail } = fault;
  if (from === 'venue') {
    const told = `What the venue changes does not fit: ${pointer}: ${detail}. Take its newer changes, or mend them.`;
    return { pointer: '/takeVenueRules', code, detail: told, in: 'body' };
  }
  const [, layer = ''] = pointer.split('/');
  return { pointer: layer === 'parameters' ? pointer : `${PLACES[layer] ?? ''}${pointer}`, code, detail, in: 'body' };
}

/** The group's own changes as a layer. */
const groupLayer = (wanted: { parameters: RunGroupData['parameters']; overlay: GroupOverlay }): Overlay => ({
  ...wanted.overlay,
  parameters: wanted.parameters,
});

/**
 * Works out the rules a run group asks for: the published version, then what its venue changes, then what the group
 * changes. Nothing is stored. It is done in a thread, so never while a transaction is open.
 *
 * @param current the version the group points at already; it may stay on a retired one, nobody may newly choose one
 * @returns the rules, or every fault with its place in the request
 * @throws ProblemError `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function prepareRules(
  deps: Deps,
  actor: Pick<Actor, 'tokenId'>,
  wanted: WantedRules,
  current?: Pick<RunGroupData, 'ruleSetId' | 'ruleSetVersion'>,
): Promise<PreparedRules | { ok: false; errors: FieldError[] }> {
  const { ruleSetId, ruleSetVersion } = wanted;
  const published = await findPublishedRuleSet(deps.db.prisma, ruleSetId, ruleSetVersion);
  if (published === undefined) {
    return refuse('unknown-version', 'There is no such published version of this rule set.');
  }
  const stays = current?.ruleSetId === ruleSetId && current.ruleSetVersion === ruleSetVersion;
  if (published.retired && !stays) return refuse('retired-version', 'This version is retired; choose a newer one.');
  const venue = wanted.venueOverlay === null ? [] : [{ from: 'venue' as const, overlay: wanted.venueOverlay }];
  const layers = [...venue, { from: 'run-group' as const, overlay: groupLayer(wanted) }];
  const input = { ruleSetId, ruleSetVersion, document: published.document, layers };
  const asked = { caller: actor.tokenId, urgency: URGENCY.preview };
  const resolved = await inThread(deps.threads, resolveRulesTask, input, asked);
  return resolved.ok ? resolved : { ok: false, errors: resolved.faults.map(toFieldError) };
}

function refuse(code: string, detail: string): { ok: false; errors: FieldError[] } {
  return { ok: false, errors: [{ pointer: '/ruleSetVersion', code, detail, in: 'body' }] };
}

/** Whether an instant falls on a day of the event, as clocks at the venue show it. */
export function isOnEventDay(instant: Date, event: EventFrame): boolean {
  const day = plainDateAt(instant, event.timeZone);
  return event.startsOn <= day && day <= event.endsOn;
}

/**
 * Refuses a run group whose first session or whose rules cannot be.
 *
 * @throws ProblemError `not-acceptable` naming every place
 */
export function assertNoFaults(errors: readonly FieldError[]): void {
  if (errors.length === 0) return;
  throw new ProblemError('not-acceptable', nameFaults(errors), { errors: [...errors] });
}

/** @throws ProblemError `name-taken`, or the error itself when it is another one */
export function translateNameTaken(error: unknown, name: string): never {
  if (!isUniqueViolation(error, 'run_groups_event_id_name_key')) throw error;
  throw new ProblemError('name-taken', `This event has a run group named "${name}".`);
}

/** A first session that falls on no day of the event, and what keeps the list of sessions from being a timetable. */
export function sessionFaults(
  event: EventFrame,
  { firstSessionAt, sessions }: Pick<RunGroupData, 'firstSessionAt' | 'sessions'>,
): FieldError[] {
  const [first] = sessions;
  const ofTable = timetableFaults(sessions, event).map((fault) => ({ ...fault, in: 'body' as const }));
  if (ofTable.length > 0) return ofTable;
  if (first !== undefined && epochMs(first.startsAt) !== firstSessionAt.getTime()) {
    const detail = 'Runs into the next session of the timetable, or past it: send the timetable as it is to be.';
    return [{ pointer: '/firstSessionAt', code: 'against-timetable', detail, in: 'body' }];
  }
  if (isOnEventDay(firstSessionAt, event)) return [];
  const detail = `Must fall on a day of the event (${event.startsOn} to ${event.endsOn}, ${event.timeZone}).`;
  return [{ pointer: '/firstSessionAt', code: 'outside-event', detail, in: 'body' }];
}
