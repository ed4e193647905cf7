import type { Tx } from '../../../platform/database/db.ts';
import { COLUMNS } from './csv-columns.ts';
import { deleteInBatches } from '../../../platform/queue/job.ts';
import type { Deps } from '../../../deps.ts';
import type { Cell } from './csv-table.ts';
import type { PlannedRow, RowReport } from './import-schemas.ts';

/** Rows written by one statement: few enough that making it up holds up nobody. */
const PER_STATEMENT = 50;

type KeptCell = [column: string, value: unknown];

/** What is kept of a row until it is decided. */
interface KeptRow {
  runGroup: string;
  cells: KeptCell[];
  carCells: KeptCell[];
  faults: PlannedRow['faults'];
}

const keepCell = ({ column, value }: Cell): KeptCell => [column.name, value ?? null];

function takeCell([name, value]: KeptCell): Cell[] {
  const column = COLUMNS.find((one) => one.name === name);
  return column === undefined ? [] : [{ column, value: value ?? undefined }];
}

/** Keeps the rows of a task, in the order in which they are to be written. */
export async function insertRows(tx: Tx, taskId: string, rows: readonly PlannedRow[]): Promise<void> {
  for (let from = 0; from < rows.length; from += PER_STATEMENT) {
    const kept = rows.slice(from, from + PER_STATEMENT).map(({ row, carNumber, runGroupId, ...said }, at) => {
      const { runGroup, cells, carCells, faults } = said;
      const data: KeptRow = { runGroup, cells: cells.map(keepCell), carCells: carCells.map(keepCell), faults };
      return { place: from + at, row, run_group_id: runGroupId ?? null, car_number: carNumber, data };
    });
    await tx.$executeRaw`
      INSERT INTO import_rows (task_id, place, row, run_group_id, car_number, data)
      SELECT ${taskId}::uuid, place, row, run_group_id, car_number, data
      FROM jsonb_to_recordset(${JSON.stringify(kept)}::jsonb)
        AS r (place int, row int, run_group_id uuid, car_number text, data jsonb)`;
  }
}

/** A row that waits, with its place. */
export type OpenRow = PlannedRow & { place: number };

/** The next rows of a task that are not decided. Their run groups are those that have the names now. */
export async function listOpenRows(
  db: Tx,
  taskId: string,
  groups: ReadonlyMap<string, string>,
  limit: number,
): Promise<OpenRow[]> {
  const rows = await db.$queryRaw<{ place: number; row: number; carNumber: string; data: KeptRow }[]>`
    SELECT place, row, car_number AS "carNumber", data FROM import_rows
    WHERE task_id = ${taskId}::uuid AND outcome IS NULL ORDER BY place LIMIT ${limit}`;
  return rows.map(({ data: { runGroup, faults, cells, carCells }, ...row }) => ({
    ...row,
    runGroup,
    faults,
    runGroupId: groups.get(runGroup),
    cells: cells.flatMap(takeCell),
    carCells: carCells.flatMap(takeCell),
  }));
}

/** Notes what came of rows and forgets what they said. Returns how many of them were open. */
export async function decideRows(
  tx: Tx,
  taskId: string,
  decided: readonly { place: number; outcome: RowReport }[],
): Promise<number> {
  return tx.$executeRaw`
    UPDATE import_rows r SET outcome = d.outcome, data = NULL
    FROM jsonb_to_recordset(${JSON.stringify(decided)}::jsonb) AS d (place int, outcome jsonb)
    WHERE r.task_id = ${taskId}::uuid AND r.place = d.place AND r.outcome IS NULL`;
}

/** What is left of a task that ended before its end: each row is told as not tried, and what it said is forgotten. */
export async function giveUpRows(tx: Tx, taskId: string, detail: string): Promise<void> {
  await tx.$executeRaw`
    UPDATE import_rows SET data = NULL, outcome = jsonb_build_object('row', row, 'carNumber', car_number,
      'outcome', 'rejected', 'errors', jsonb_build_array(jsonb_build_object('code', 'not-written', 'detail', ${detail}::text)))
    WHERE task_id = ${taskId}::uuid AND outcome IS NULL`;
}

/** How far a task is. */
export async function countRowsOf(db: Tx, taskId: string): Promise<{ done: number; total: number }> {
  const rows = await db.$queryRaw<{ done: number; total: number }[]>`
    SELECT count(outcome)::int AS done, count(*)::int AS total FROM import_rows WHERE task_id = ${taskId}::uuid`;
  return rows[0] ?? { done: 0, total: 0 };
}

/** What came of the rows that are decided, in the order of the file. */
export async function listOutcomes(db: Tx, taskId: string): Promise<RowReport[]> {
  const rows = await db.$queryRaw<{ outcome: RowReport }[]>`
    SELECT outcome FROM import_rows WHERE task_id = ${taskId}::uuid AND outcome IS NOT NULL ORDER BY row, place`;
  return rows.map(({ outcome }) => outcome);
}

/** Imports of an event that are not done. */
export function countOpenImports(db: Tx, eventId: string): Promise<number> {
  return db.task.count({ where: { kind: 'import', subjectId: eventId, state: { in: ['waiting', 'running'] } } });
}

/** How long an import and what came of its rows is kept, from when it was ordered. */
export const KEPT_DAYS = 7;

// Its rows go with it.
const OLD = `DELETE FROM tasks WHERE id IN
  (SELECT id FROM tasks WHERE kind = 'import' AND created_at < $2 ORDER BY created_at LIMIT $1)`;

/** Forgets imports that were ordered over seven days ago, whatever became of them. Returns how many. */
export async function removeOldImports({ db, clock }: Deps, signal?: AbortSignal): Promise<number> {
  const before = new Date(clock.now().getTime() - KEPT_DAYS * 86_400_000);
  return deleteInBatches(db.pool, { text: OLD, values: [before] }, signal);
}
