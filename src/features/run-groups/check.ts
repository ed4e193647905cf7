import { plainDateAt } from '../../domain/calendar.ts';
import { checkOverrides } from '../../domain/rules/check.ts';
import { type FieldError, ProblemError } from '../../http/problem.ts';
import type { Tx } from '../../platform/db.ts';
import { isUniqueViolation } from '../../platform/db-errors.ts';
import { type EventFrame, findPublishedRuleSet, type RunGroupData } from './store.ts';

/** Whether an instant falls on a day of the event, as clocks at the venue show it. */
export function isOnEventDay(instant: Date, event: EventFrame): boolean {
  const day = plainDateAt(instant, event.timeZone);
  return event.startsOn <= day && day <= event.endsOn;
}

/**
 * Checks what the fields of a run group mean together with its event and its rule set.
 *
 * @throws ProblemError `not-acceptable` naming every place
 */
export async function assertRunGroupMakesSense(db: Tx, event: EventFrame, group: RunGroupData): Promise<void> {
  const errors = [...sessionFaults(event, group), ...(await ruleFaults(db, group))];
  if (errors.length === 0) return;
  const named = errors.slice(0, 3).map((fault) => `${fault.pointer}: ${fault.detail}`);
  throw new ProblemError('not-acceptable', named.join(' '), { errors });
}

/** @throws ProblemError `name-taken`, or the error itself when it is another one */
export function translateNameTaken(error: unknown, name: string): never {
  if (!isUniqueViolation(error, 'run_groups_event_id_name_key')) throw error;
  throw new ProblemError('name-taken', `This event has a run group named "${name}".`);
}

function sessionFaults(event: EventFrame, group: RunGroupData): FieldError[] {
  if (isOnEventDay(group.firstSessionAt, event)) return [];
  const detail = `Must fall on a day of the event (${event.startsOn} to ${event.endsOn}, ${event.timeZone}).`;
  return [{ pointer: '/firstSessionAt', code: 'outside-event', detail, in: 'body' }];
}

async function ruleFaults(db: Tx, group: RunGroupData): Promise<FieldError[]> {
  const ruleSet = await findPublishedRuleSet(db, group.ruleSetId, group.ruleSetVersion);
  if (ruleSet === undefined) {
    const detail = 'There is no such published version of this rule set.';
    return [{ pointer: '/ruleSetVersion', code: 'unknown-version', detail, in: 'body' }];
  }
  return checkOverrides(ruleSet, group.parameters).map(({ pointer, code, detail }) => ({
    pointer: `/parameters${pointer}`,
    code,
    detail,
    in: 'body',
  }));
}
