import type { Actor, Role } from '../domain/actor.ts';
import type { Tx } from '../platform/database/db.ts';
import type { Prisma } from '../platform/prisma-client/client.ts';

export type TaskKind = 'trial' | 'rejudgement' | 'import';

export const TASK_STATES = ['waiting', 'running', 'done', 'failed'] as const;
export type TaskState = (typeof TASK_STATES)[number];

/** A task as lists show it. */
export interface TaskSummary {
  taskId: string;
  kind: TaskKind;
  /** what it is about: the rule set of a trial, the run group of a re-judgement, the event of an import */
  subjectId: string;
  state: TaskState;
  done: number;
  /** null until the work begins */
  total: number | null;
  /** why it failed, for the person who asked for it */
  error: string | null;
  createdBy: Actor;
  createdAt: Date;
  startedAt: Date | null;
  finishedAt: Date | null;
}

/** A task with what was asked for and, once it is done, what came of it. Each kind of task writes its own shapes. */
export interface StoredTask extends TaskSummary {
  request: unknown;
  result: unknown;
}

type Row = Prisma.TaskGetPayload<{ omit: { request: true; result: true } }>;

const WITHOUT_DATA = { request: true, result: true } as const;
const json = (value: unknown) => value as Prisma.InputJsonValue;

function toSummary(row: Row): TaskSummary {
  // checks of the database keep kind and state; the role is written from an actor
  return {
    taskId: row.id,
    kind: row.kind as TaskKind,
    subjectId: row.subjectId,
    state: row.state as TaskState,
    done: row.done,
    total: row.total,
    error: row.error,
    createdBy: { tokenId: row.createdBy, role: row.createdRole as Role, name: row.createdName },
    createdAt: row.createdAt,
    startedAt: row.startedAt,
    finishedAt: row.finishedAt,
  };
}

const toStored = (row: Row & { request: unknown; result: unknown }): StoredTask => ({
  ...toSummary(row),
  request: row.request,
  result: row.result,
});

/** Writes a task down. The caller orders its job in the same transaction. */
export async function createTask(
  tx: Tx,
  task: { kind: TaskKind; subjectId: string; request: unknown; actor: Actor; at: Date },
): Promise<StoredTask> {
  const { kind, subjectId, request, actor, at } = task;
  const by = { createdBy: actor.tokenId, createdRole: actor.role, createdName: actor.name };
  return toStored(await tx.task.create({ data: { kind, subjectId, request: json(request), ...by, createdAt: at } }));
}

export async function findTask(db: Tx, kind: TaskKind, taskId: string): Promise<StoredTask | undefined> {
  const row = await db.task.findUnique({ where: { id: taskId, kind } });
  return row === null ? undefined : toStored(row);
}

/** Tasks about one subject, newest first; `before` is the id of the last one that the caller has. */
export async function listTasks(
  db: Tx,
  where: { kind: TaskKind; subjectId: string },
  page: { limit: number; before?: string | undefined },
): Promise<TaskSummary[]> {
  const rows = await db.task.findMany({
    where: { ...where, ...(page.before === undefined ? {} : { id: { lt: page.before } }) },
    omit: WITHOUT_DATA,
    orderBy: { id: 'desc' },
    take: page.limit,
  });
  return rows.map(toSummary);
}

/**
 * Says that a worker has begun, also when another one began before and was lost. Undefined when there is nothing to do:
 * no such task, or it is over.
 */
export async function startTask(db: Tx, taskId: string, at: Date): Promise<StoredTask | undefined> {
  const rows = await db.task.updateManyAndReturn({
    where: { id: taskId, state: { in: ['waiting', 'running'] } },
    data: { state: 'running', startedAt: at },
  });
  return rows[0] === undefined ? undefined : toStored(rows[0]);
}

/** Says how far a running task is. */
export async function reportProgress(db: Tx, taskId: string, at: { done: number; total: number }): Promise<void> {
  await db.task.updateMany({ where: { id: taskId, state: 'running' }, data: at });
}

/** Ends a running task with its result. Of two workers on one task the first to end it decides. */
export async function finishTask(
  db: Tx,
  taskId: string,
  end: { done: number; total: number; result: unknown; at: Date },
): Promise<void> {
  const { done, total, result, at } = end;
  await db.task.updateMany({
    where: { id: taskId, state: 'running' },
    data: { state: 'done', done, total, result: json(result), error: null, finishedAt: at },
  });
}

/** Ends a task that cannot be done. `error` is for the person who asked for it. */
export async function failTask(db: Tx, taskId: string, error: string, at: Date): Promise<void> {
  await db.task.updateMany({
    where: { id: taskId, state: { in: ['waiting', 'running'] } },
    data: { state: 'failed', error, finishedAt: at },
  });
}

/** Notes one part of a task as done, in the transaction of its effect; false when it was done before. */
export async function noteTaskItem(
  tx: Tx,
  item: { taskId: string; itemId: string; outcome: unknown },
): Promise<boolean> {
  const { taskId, itemId, outcome } = item;
  const { count } = await tx.taskItem.createMany({
    data: { taskId, itemId, outcome: json(outcome) },
    skipDuplicates: true,
  });
  return count === 1;
}

/** The parts of a task that are done. */
export async function listTaskItems(db: Tx, taskId: string): Promise<{ itemId: string; outcome: unknown }[]> {
  return db.taskItem.findMany({
    where: { taskId },
    select: { itemId: true, outcome: true },
    orderBy: { itemId: 'asc' },
  });
}
