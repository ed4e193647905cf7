import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { inTransaction } from '../../../platform/database/db.ts';
import { appendOutbox } from '../../../platform/queue/outbox.ts';
import { createTask, findTask, listTasks, type StoredTask, type TaskSummary } from '../../../records/tasks.ts';
import { countRows, numbersOfTwoCars, type PlannedRow } from './import-plan.ts';
import { IMPORT_JOB, type ImportSummary, type ImportView } from './import-schemas.ts';
import { countOpenImports, countRowsOf, insertRows, listOutcomes } from './import-task-store.ts';
import { findNumberRules } from '../store.ts';

const MOST_OPEN = 4;
/** Imports that a list shows; older ones are hardly asked for. */
const LISTED = 20;

/**
 * Orders that rows are written by the worker, in parts. They are kept until each is decided.
 *
 * @throws ProblemError `too-much-at-once`
 */
export async function orderImport(
  deps: Deps,
  actor: Actor,
  { eventId, rows, requestId }: { eventId: string; rows: readonly PlannedRow[]; requestId: string },
): Promise<StoredTask> {
  if ((await countOpenImports(deps.db.prisma, eventId)) >= MOST_OPEN) {
    const detail = `${MOST_OPEN} imports of this event are not done yet. Wait until one is.`;
    throw new ProblemError('too-much-at-once', detail, {}, { 'retry-after': '5' });
  }
  return inTransaction(deps.db.prisma, async (tx) => {
    const at = deps.clock.now();
    const task = await createTask(tx, { kind: 'import', subjectId: eventId, request: {}, actor, at });
    await insertRows(tx, task.taskId, rows);
    await appendOutbox(tx, { name: IMPORT_JOB, payload: { taskId: task.taskId }, requestId });
    return task;
  });
}

/** An import as lists show it. */
export function viewImport(task: TaskSummary, of: { done: number; total: number | null }): ImportSummary {
  const { taskId, subjectId, state, error, createdBy, createdAt, finishedAt } = task;
  return {
    importId: taskId,
    eventId: subjectId,
    state,
    ...of,
    ...(error === null ? {} : { error }),
    requestedBy: createdBy.name,
    requestedAt: createdAt.toISOString(),
    ...(finishedAt === null ? {} : { finishedAt: finishedAt.toISOString() }),
  };
}

/**
 * How far an import is, and what came of each row that is decided.
 *
 * @throws ProblemError `not-found`
 */
export async function readImport({ db }: Deps, importId: string): Promise<ImportView> {
  const task = await findTask(db.prisma, 'import', importId);
  if (task === undefined) throw notFound('import');
  const rows = await listOutcomes(db.prisma, importId);
  const of = await countRowsOf(db.prisma, importId);
  return { ...viewImport(task, of), ...countRows(rows), numbersOfTwoCars: numbersOfTwoCars(rows), rows };
}

/**
 * The imports of an event that are kept, newest first.
 *
 * @throws ProblemError `not-found`
 */
export async function readImports({ db }: Deps, eventId: string): Promise<ImportSummary[]> {
  if ((await findNumberRules(db.prisma, eventId)) === undefined) throw notFound('event');
  const tasks = await listTasks(db.prisma, { kind: 'import', subjectId: eventId }, { limit: LISTED });
  return tasks.map((task) => viewImport(task, { done: task.done, total: task.total }));
}
