import { epochMs, type Instant } from '../calendar.ts';
import type { OpenCondition } from '../clearance/clearance.ts';
import { movedStart, type Timetable } from './timetable.ts';
import type { RecheckTimes } from './torque-recheck.ts';

/** The times of a condition that is still open, as they are from now on; without `dueAt` it has none. */
export interface MovedCondition {
  id: string;
  dueAt?: Instant | undefined;
  /** of a wheel torque: from when on one counts */
  from?: Instant | undefined;
}

/**
 * The open conditions whose times are others under another timetable: what the rules ask for is derived anew, what an
 * inspector made due at the start of a session goes with that session, and a time of his own stays.
 *
 * @param recheck the times of a wheel torque under the timetable of now, for the acceptance that asked for it
 */
export function movedConditions(
  conditions: readonly OpenCondition[],
  tables: { from: Timetable; to: Timetable },
  recheck: RecheckTimes,
): MovedCondition[] {
  return conditions.flatMap((condition): MovedCondition[] => {
    const { id, dueAt } = condition;
    const is = condition.recheck;
    const isTables = is?.byTimetable === true;
    const due = isTables ? recheck.dueAt?.toISOString() : (dueAt && movedStart(dueAt, tables)) || dueAt;
    const from = is === undefined ? undefined : recheck.from.toISOString();
    if (isSame(due, dueAt) && isSame(from, is?.from)) return [];
    return [{ id, ...(due === undefined ? {} : { dueAt: due }), ...(from === undefined ? {} : { from }) }];
  });
}

const isSame = (a: Instant | undefined, b: Instant | undefined): boolean =>
  a === b || (a !== undefined && b !== undefined && epochMs(a) === epochMs(b));

/** A list of conditions with the times that moved. */
export const withMoved = <C extends Omit<OpenCondition, 'id'> & { id: string }>(
  conditions: readonly C[],
  moved: readonly MovedCondition[],
): C[] =>
  conditions.map((condition) => {
    const found = moved.find(({ id }) => id === condition.id);
    if (found === undefined) return condition;
    const { dueAt: _before, ...rest } = condition;
    const { recheck } = condition;
    return {
      ...rest,
      ...(found.dueAt === undefined ? {} : { dueAt: found.dueAt }),
      ...(recheck === undefined ? {} : { recheck: { ...recheck, from: found.from ?? recheck.from } }),
    } as C; // as it was but for its times
  });
