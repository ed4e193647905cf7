import { epochMs, plainDateAt } from '../../domain/calendar.ts';
import { timetableFaults } from '../../domain/log/timetable.ts';
import { type FieldError, nameFaults, ProblemError } from '../../http/frame/problem.ts';
import { isUniqueViolation } from '../../platform/database/db-errors.ts';
import type { EventFrame, RunGroupData } from './run-group-store.ts';

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
