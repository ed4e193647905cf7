import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { addDays, dateOf, daysBetween, plainDateAt, sameTimeOn } from '../../../domain/calendar.ts';
import { line, PlannedDay, PlannedInstant, text } from '../../../http/frame/common-schemas.ts';
import { type FieldError, notFound } from '../../../http/frame/problem.ts';
import { decisionTime } from '../../../platform/clock.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { lockEvent, recordEventChange } from '../../../records/history/event-history.ts';
import { assertEventMakesSense, toInput } from '../event-change.ts';
import type { EventInput } from '../event-schemas.ts';
import { findEvent, insertEvent, type StoredEvent } from '../event-store.ts';
import { assertNoFaults, type PreparedRules, prepareRules } from '../run-group-rules.ts';
import {
  findVenueOverlay,
  insertRunGroup,
  keepResolvedRules,
  listRunGroups,
  type RunGroupData,
  type StoredRunGroup,
} from '../run-group-store.ts';
import { findVersionToUse } from './store.ts';

interface CopyRequest {
  eventId: string;
  input: CopyEvent;
  requestId: string;
}

interface ReadyGroup {
  data: RunGroupData;
  rules: PreparedRules;
}

/**
 * Makes a new event with the settings of another: days and window moved by whole days at the same times of the venue's
 * clock, run groups with limits, effects and first sessions. Entries, people and skipped steps stay behind. A group takes
 * what its venue changes today, as a new group does, and the newest version where its own was retired.
 *
 * @throws ProblemError `not-found`, `not-acceptable` naming every place; those of `prepareRules`
 */
export async function copyEvent(deps: Deps, actor: Actor, request: CopyRequest): Promise<StoredEvent> {
  const db = deps.db.prisma;
  const source = await findEvent(db, request.eventId);
  if (source === undefined) throw notFound('event');
  const wanted = movedEvent(source, request.input);
  await assertEventMakesSense(db, wanted);
  const shift = daysBetween(source.startsOn, wanted.startsOn);
  const groups: ReadyGroup[] = [];
  for (const group of await listRunGroups(db, source.eventId)) {
    groups.push(await readyGroup(deps, actor, { source, group, shift }));
  }
  return inTransaction(db, async (tx) => {
    const at = await decisionTime(tx, deps.clock);
    const event = await insertEvent(tx, wanted);
    const locked = await lockEvent(tx, event.eventId);
    if (locked === undefined) throw notFound('event');
    for (const group of groups) await insertGroup(tx, event.eventId, group);
    const data = { copyOf: source.eventId, runGroups: groups.map(({ data: { name } }) => name) };
    await recordEventChange(tx, locked, { actor, at, action: 'event.copied', data, requestId: request.requestId });
    return event;
  });
}

function movedEvent(source: StoredEvent, input: CopyEvent): EventInput {
  const { name, startsOn } = input;
  const shift = daysBetween(source.startsOn, startsOn);
  const moved = (instant: Date): string => movedInstant(instant, shift, source.timeZone).toISOString();
  return {
    ...toInput(source),
    name,
    startsOn,
    endsOn: addDays(source.endsOn, shift),
    declarationsOpenAt: input.declarationsOpenAt ?? moved(source.declarationsOpenAt),
    declarationsCloseAt: input.declarationsCloseAt ?? moved(source.declarationsCloseAt),
  };
}

/** The same time of day at the venue, so many days later, over a change of the clock too. */
function movedInstant(instant: Date, days: number, timeZone: string): Date {
  return sameTimeOn(instant, addDays(plainDateAt(instant, timeZone), days), timeZone);
}

async function readyGroup(
  deps: Deps,
  actor: Actor,
  { source, group, shift }: { source: StoredEvent; group: StoredRunGroup; shift: number },
): Promise<ReadyGroup> {
  const db = deps.db.prisma;
  const { name, order, parameters, overlay, ruleSetId } = group;
  const ruleSetVersion = await findVersionToUse(db, ruleSetId, group.ruleSetVersion);
  const venueOverlay = await findVenueOverlay(db, source.venueId, ruleSetId);
  const wanted = { ruleSetId, ruleSetVersion, parameters, overlay, venueOverlay };
  const rules = await prepareRules(deps, actor, wanted);
  if (!rules.ok) {
    assertNoFaults(
      rules.errors.map((fault): FieldError => ({ ...fault, pointer: '', detail: `${name}: ${fault.detail}` })),
    );
    throw notFound('rule set');
  }
  const moved = (instant: Date): Date => movedInstant(instant, shift, source.timeZone);
  const firstSessionAt = moved(group.firstSessionAt);
  const sessions = group.sessions.map((one) => ({
    name: one.name,
    startsAt: moved(dateOf(one.startsAt)).toISOString(),
    endsAt: moved(dateOf(one.endsAt)).toISOString(),
  }));
  return { data: { ...wanted, name, order, firstSessionAt, sessions, resolvedHash: rules.hash }, rules };
}

async function insertGroup(tx: Tx, eventId: string, { data, rules }: ReadyGroup): Promise<void> {
  const { ruleSetId, ruleSetVersion } = data;
  const { hash, origins } = rules;
  await keepResolvedRules(tx, { hash, ruleSetId, ruleSetVersion, document: rules.rules.document, origins });
  await insertRunGroup(tx, eventId, data);
}

export const CancelEvent = z
  .strictObject({ reason: text(300).describe('Why; every marshal reads it at the gate') })
  .meta({ id: 'CancelEvent' });
export type CancelEvent = z.infer<typeof CancelEvent>;

export const CopyEvent = z
  .strictObject({
    name: line(120).describe('Name of the new event'),
    startsOn: PlannedDay.describe(
      'Its first day, YYYY-MM-DD at the venue; it has as many days as the one it is made from',
    ),
    declarationsOpenAt: PlannedInstant.optional().describe(
      'When declarations open; absent: as many days before the event, at the same time of day',
    ),
    declarationsCloseAt: PlannedInstant.optional().describe('When they close; absent: likewise'),
  })
  .meta({ id: 'CopyEvent' });
export type CopyEvent = z.infer<typeof CopyEvent>;

export const COPY_EXAMPLE = { name: 'Alder Ridge club weekend 2027', startsOn: '2027-06-12' };
