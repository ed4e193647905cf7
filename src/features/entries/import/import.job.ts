import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { ProblemError } from '../../../http/frame/problem.ts';
import { findCollision, isDatabaseDown } from '../../../platform/database/db.ts';
import { defineJob } from '../../../platform/queue/job.ts';
import { pause } from '../../../platform/clock.ts';
import { failTask, finishTask, reportProgress, type StoredTask, startTask } from '../../../records/tasks.ts';
import { mapRunGroups } from './import-store.ts';
import { type ImportJob, namedCars, write } from './import.ts';
import { IMPORT_JOB, notWritten } from './import-schemas.ts';
import { countRowsOf, decideRows, giveUpRows, listOpenRows, type OpenRow } from './import-task-store.ts';
import { findNumberRules } from '../store.ts';

const Payload = z.strictObject({ taskId: z.uuid() });
const ATTEMPTS = 5;
/** Rows that are written in one transaction: short enough that nobody waits for it. */
const CHUNK = 20;
/** After a part others have the processor and the database for as long as the part took, at most this long, in milliseconds. */
const LONGEST_REST_MS = 250;

const GIVEN_UP = 'The import broke off before this row. Import the file again; rows that are done stay as they are.';

/** Nothing is wrong with the rows: the queue tries again without counting it. */
const isPassing = (error: unknown): boolean => isDatabaseDown(error) || findCollision(error) !== undefined;

/**
 * Writes the rows of an import, part after part, each part in one short transaction with the note of what came of it: a
 * job that runs twice, or that is killed half-way and starts again, writes nothing twice.
 */
export const importJob = defineJob<Deps, z.infer<typeof Payload>>({
  name: IMPORT_JOB,
  payload: Payload,
  attempts: ATTEMPTS,
  backoffMs: 2000,
  async handle(deps, { taskId }, context) {
    const db = deps.db.prisma;
    const task = await startTask(db, taskId, deps.clock.now());
    if (task === undefined) return;
    const isLastTry = context.attempt >= ATTEMPTS;
    try {
      for (let began = performance.now(); await writeNext(deps, task, isLastTry); began = performance.now()) {
        await reportProgress(db, taskId, await countRowsOf(db, taskId));
        await pause(Math.min(performance.now() - began, LONGEST_REST_MS));
      }
      const { total } = await countRowsOf(db, taskId);
      await finishTask(db, taskId, { done: total, total, result: null, at: deps.clock.now() });
    } catch (error) {
      if (isLastTry && !isPassing(error)) {
        await giveUpRows(db, taskId, GIVEN_UP);
        await failTask(db, taskId, 'The import broke off. Import the file again to finish it.', deps.clock.now());
      }
      throw error;
    }
  },
});

/** Writes the next part; false when there is none. */
async function writeNext(deps: Deps, task: StoredTask, isLastTry: boolean): Promise<boolean> {
  const { taskId, subjectId: eventId, createdBy: actor } = task;
  const db = deps.db.prisma;
  const rules = await findNumberRules(db, eventId);
  if (rules === undefined) throw new Error(`no event ${eventId}`);
  const groups = await mapRunGroups(db, eventId);
  const rows = await listOpenRows(db, taskId, groups, CHUNK);
  if (rows.length === 0) return false;
  const requestId = `task-${taskId}`;
  const job = { eventId, actor, requestId, groups, rules, vehicleIds: namedCars(rows), now: deps.clock.now() };
  try {
    await writePart(deps, { taskId, job }, rows);
  } catch (error) {
    // One row must not keep the others: they are written one by one, up to the one that cannot be.
    if (error instanceof ProblemError || isPassing(error)) throw error;
    for (const row of rows) await writeAlone(deps, { taskId, job }, row, isLastTry);
  }
  return true;
}

interface Work {
  taskId: string;
  job: ImportJob;
}

async function writeAlone(deps: Deps, work: Work, row: OpenRow, isLastTry: boolean): Promise<void> {
  try {
    await writePart(deps, work, [row]);
  } catch (error) {
    if (!isLastTry || isPassing(error)) throw error;
    deps.log.error({ error, taskId: work.taskId, row: row.row }, 'row of an import could not be written');
    const outcome = notWritten(row.row, row.carNumber);
    await decideRows(deps.db.prisma, work.taskId, [{ place: row.place, outcome }]);
  }
}

/** Another worker on the same task was here first, or a row was erased: what this one did is taken back. */
class Decided extends Error {}

async function writePart(deps: Deps, { taskId, job }: Work, rows: readonly OpenRow[]): Promise<void> {
  const placeOf = new Map(rows.map(({ row, place }) => [row, place]));
  await write(deps, job, rows, {
    async note(tx, reports) {
      const decided = reports.map((outcome) => ({ place: placeOf.get(outcome.row) ?? -1, outcome }));
      if ((await decideRows(tx, taskId, decided)) !== rows.length) throw new Decided();
    },
  }).catch((error) => {
    // What is open is read anew.
    if (!(error instanceof Decided)) throw error;
  });
}
