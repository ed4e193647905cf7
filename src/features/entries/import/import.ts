import { setImmediate as nextTurn, setImmediate } from 'node:timers/promises';
import type { Deps } from '../../../deps.ts';
import type { Actor } from '../../../domain/actor.ts';
import { inThread, URGENCY } from '../../../http/body/in-thread.ts';
import { Id } from '../../../http/frame/common-schemas.ts';
import { notFound, ProblemError } from '../../../http/frame/problem.ts';
import { inTransaction, isUniqueViolation, type Tx } from '../../../platform/database/db.ts';
import { appendOutbox } from '../../../platform/queue/outbox.ts';
import { createTask, findTask, listTasks, type StoredTask, type TaskSummary } from '../../../records/tasks.ts';
import type { NumberRules } from '../create.ts';
import { findNumberRules } from '../store.ts';
import { COLUMNS } from './csv-columns.ts';
import { csvReadTask, type SentRow, type SentTable } from './csv-read.task.ts';
import { type Known, mapRunGroups, readKnown } from './import-store.ts';
import type { Cell, ImportRow, Table } from './csv-table.ts';
import { applySteps, Moved } from './import-apply.ts';
import {
  countRows,
  IMPORT_JOB,
  type ImportReport,
  type ImportSummary,
  type ImportView,
  notAcceptable,
  numbersOfTwoCars,
  type PlannedRow,
  planRows,
  type RowReport,
  toReport,
} from './import-schemas.ts';
import { openState, planRow, type RowPlan, vehicleIdOf } from './import-row.ts';
import { countOpenImports, countRowsOf, insertRows, listOutcomes } from './import-task-store.ts';

/** What all rows of an import have in common. */
export interface ImportJob {
  eventId: string;
  actor: Actor;
  requestId: string;
  /** ids of the event's run groups by name */
  groups: ReadonlyMap<string, string>;
  rules: NumberRules;
  /** vehicles that the file names by their ids */
  vehicleIds: readonly string[];
  now: Date;
}

/** A file of more rows than this is written as a task, so that no lock is held for long. */
export const MOST_AT_ONCE = 500;
const MAX_TRIES = 5;
/** Rows that are planned before others have their turn: a lookup at the gate waits for several turns. */
const ROWS_PER_TURN = 3;

interface Import {
  eventId: string;
  /** reads the file */
  read(): Promise<Table>;
  partial: boolean;
  dryRun: boolean;
  requestId: string;
}

/**
 * Enters and changes cars from a file. Every row is planned before the first is written and outside of any lock; a dry
 * run ends there. Up to `MOST_AT_ONCE` rows are written in one short transaction; more, or with `partial`, by a task.
 * Repeating an import changes nothing more, and finishes what broke off.
 *
 * @returns the report, or the task that writes
 * @throws ProblemError `not-found` (event), `import-not-acceptable` with the report, `state-moved-on` (others kept
 *   changing the event), `too-much-at-once` (imports that are not done yet)
 */
export async function importEntries(
  deps: Deps,
  actor: Actor,
  input: Import,
): Promise<{ report: ImportReport } | { task: StoredTask; rows: number }> {
  const { eventId, dryRun, partial, requestId } = input;
  const rules = await findNumberRules(deps.db.prisma, eventId);
  if (rules === undefined) throw notFound('event');
  const table = await input.read();
  if (!('rows' in table)) {
    const { badRow: row, faults: errors } = table;
    throw notAcceptable(toReport([{ row, outcome: 'rejected', errors }], dryRun));
  }
  const groups = await mapRunGroups(deps.db.prisma, eventId);
  const job = { eventId, actor, requestId, groups, rules, vehicleIds: namedCars(table.rows), now: deps.clock.now() };
  const known = await readKnown(deps.db.prisma, eventId, job.vehicleIds);
  const ordered = planRows(table.rows, groups, known.entries);
  const foreseen = await planAll(job, known, ordered);
  const report = toReport(
    foreseen.map(({ report }) => report),
    dryRun,
  );
  if (report.rejected > 0 && !partial) throw notAcceptable(report);
  if (dryRun) return { report };
  if (partial || ordered.length > MOST_AT_ONCE) {
    return { task: await orderImport(deps, actor, { eventId, rows: ordered, requestId }), rows: ordered.length };
  }
  const reports = await write(deps, job, ordered, { first: { known, plans: foreseen } });
  return { report: toReport(reports, false) };
}

/** Cars that rows name by their ids. */
export const namedCars = (rows: readonly Pick<ImportRow, 'cells'>[]): string[] => [
  ...new Set(rows.flatMap((row) => vehicleIdOf(row) ?? []).filter((id) => Id.safeParse(id).success)),
];

/** Plans rows one after the other, as each leaves the event; the loop turns in between, for others who wait. */
async function planAll(job: ImportJob, known: Known, rows: readonly PlannedRow[]): Promise<RowPlan[]> {
  const state = openState(known, job.rules);
  const plans: RowPlan[] = [];
  for (const row of rows) {
    if (plans.length % ROWS_PER_TURN === 0) await nextTurn();
    plans.push(planRow(state, job.groups, row));
  }
  return plans;
}

interface Planned {
  known: Known;
  plans: readonly RowPlan[];
}

/**
 * Writes rows in one transaction. Where the event is no longer as it was planned for they are planned anew.
 *
 * @param how `first`: the plan to begin with; then all rows are written or, if one is bad meanwhile, none.
 *   `note`: told what comes of the rows in the transaction that writes them
 * @throws ProblemError `import-not-acceptable`, `state-moved-on`
 */
export async function write(
  deps: Deps,
  job: ImportJob,
  rows: readonly PlannedRow[],
  how: { first: Planned } | { note(tx: Tx, reports: readonly RowReport[]): Promise<void> },
): Promise<RowReport[]> {
  let planned = 'first' in how ? how.first : undefined;
  for (let attempt = 1; attempt <= MAX_TRIES; attempt += 1) {
    planned ??= await planNow(deps, job, rows);
    const { known, plans } = planned;
    const reports = plans.map(reportOf);
    if ('first' in how && reports.some(({ outcome }) => outcome === 'rejected')) {
      const foreseen = plans.map(({ report }) => report);
      throw notAcceptable(toReport(foreseen, false));
    }
    const steps = plans.flatMap(({ step }) => step ?? []);
    if (steps.length === 0 && 'first' in how) return reports;
    try {
      await inTransaction(deps.db.prisma, async (tx) => {
        if (steps.length > 0) await applySteps(tx, job, known, steps);
        if ('note' in how) await how.note(tx, reports);
      });
      return reports;
    } catch (error) {
      // Another run group for an entry is given without the lock on its number.
      const moved = error instanceof Moved || isUniqueViolation(error, 'entries_event_id_run_group_id_car_number_key');
      if (!moved) throw error;
      planned = undefined;
    }
  }
  const detail = 'Others kept changing the same event. Import the file again.';
  throw new ProblemError('state-moved-on', detail, { currentState: 'being-changed' });
}

async function planNow(deps: Deps, job: ImportJob, rows: readonly PlannedRow[]): Promise<Planned> {
  const known = await readKnown(deps.db.prisma, job.eventId, job.vehicleIds);
  return { known, plans: await planAll(job, known, rows) };
}

function reportOf({ report, step }: RowPlan): RowReport {
  return step?.act === 'enter' ? { ...report, entryId: step.entryId } : report;
}

function receiveRow({ cells, ...row }: SentRow): ImportRow {
  const received = cells.flatMap(([at, value]): Cell[] => {
    const column = COLUMNS[at];
    return column === undefined ? [] : [{ column, value: value ?? undefined }];
  });
  return { ...row, cells: received };
}

/** Takes a table over from a thread, in small steps. */
export async function receiveTable(table: SentTable): Promise<Table> {
  if (!('texts' in table)) return table;
  const rows: ImportRow[] = [];
  for (const text of table.texts) {
    // Written by the task, from rows of its own.
    for (const row of JSON.parse(text) as SentRow[]) rows.push(receiveRow(row));
    await setImmediate();
  }
  return { rows };
}

/**
 * Reads a file of entries in a thread; see `readTable`. Its rows are taken over in small steps.
 *
 * @throws ProblemError `too-heavy`, `too-much-at-once`, `threads-busy`
 */
export async function readTableInThread(
  { threads }: Pick<Deps, 'threads'>,
  { tokenId }: Pick<Actor, 'tokenId'>,
  text: string,
): Promise<Table> {
  return receiveTable(await inThread(threads, csvReadTask, text, { caller: tokenId, urgency: URGENCY.check }));
}

const MOST_OPEN = 4;
/** Imports that a list shows; older ones are hardly asked for. */
const LISTED = 20;

/**
 * Orders that rows are written by the worker, in parts. They are kept until each is decided.
 *
 * @throws ProblemError `too-much-at-once`
 */
async function orderImport(
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
