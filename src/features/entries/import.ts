import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { isUniqueViolation } from '../../platform/db-errors.ts';
import { listKnownEntries, lockCarNumbers, mapRunGroups } from './csv-store.ts';
import { type ImportRow, readTable } from './csv-table.ts';
import { type PlannedRow, planRows } from './import-plan.ts';
import { type ImportJob, importRow } from './import-row.ts';
import type { ImportReport, RowReport } from './import-schemas.ts';
import { eventExists } from './store.ts';

interface Import {
  eventId: string;
  /** the file */
  text: string;
  partial: boolean;
  dryRun: boolean;
  requestId: string;
}

const MAX_TRIES = 3;
const MOVED: ReadonlySet<string> = new Set(['precondition-failed', 'car-number-taken', 'shared-car-differs']);
const WHOLE_FILE_TIMEOUT_MS = 60_000;

/** Thrown inside a transaction to take back what it wrote; never leaves this file. */
class NothingKept extends Error {}

/**
 * Enters and changes cars from a file. All rows in one transaction, or with `partial` each in its own; with `dryRun`
 * nothing is kept. Repeating an import changes nothing more.
 *
 * @throws ProblemError `not-found` (event), `import-not-acceptable` with the report, `state-moved-on` (others kept
 *   changing the same entries)
 */
export async function importEntries(deps: Deps, actor: Actor, input: Import): Promise<ImportReport> {
  const { eventId, dryRun, partial, requestId } = input;
  if (!(await eventExists(deps.db.prisma, eventId))) throw notFound('event');
  const table = readTable(input.text);
  if (!('rows' in table)) {
    const { badRow: row, faults: errors } = table;
    throw notAcceptable(toReport([{ row, outcome: 'rejected', errors }], dryRun));
  }
  const groups = await mapRunGroups(deps.db.prisma, eventId);
  const job: ImportJob = { eventId, actor, requestId, groups, now: deps.clock.now() };
  const reports =
    partial && !dryRun
      ? await importRowByRow(deps, job, table.rows)
      : await importAtOnce(deps, job, table.rows, { keepIf: (bad) => !bad && !dryRun });
  const report = toReport(reports, dryRun);
  if (report.rejected > 0 && !partial) throw notAcceptable(report);
  return report;
}

async function importAtOnce(
  deps: Deps,
  job: ImportJob,
  rows: readonly ImportRow[],
  { keepIf }: { keepIf: (bad: boolean) => boolean },
): Promise<RowReport[]> {
  const numbers = rows.map((row) => row.carNumber);
  let reports: RowReport[] = [];
  const run = () =>
    inTransaction(
      deps.db.prisma,
      async (tx) => {
        await lockCarNumbers(tx, job.eventId, numbers);
        reports = [];
        for (const row of planRows(rows, job.groups, await listKnownEntries(tx, job.eventId))) {
          reports.push(await importRow(tx, job, row));
        }
        if (!keepIf(reports.some(isRejected))) throw new NothingKept();
      },
      { timeoutMs: WHOLE_FILE_TIMEOUT_MS },
    );
  try {
    await repeatIfMoved(run);
    return reports;
  } catch (error) {
    if (!(error instanceof NothingKept)) throw error;
    // What was entered is gone again, and its id with it.
    return reports.map(({ entryId, ...report }) =>
      report.outcome === 'created' || entryId === undefined ? report : { ...report, entryId },
    );
  }
}

async function importRowByRow(deps: Deps, job: ImportJob, rows: readonly ImportRow[]): Promise<RowReport[]> {
  const planned = planRows(rows, job.groups, await listKnownEntries(deps.db.prisma, job.eventId));
  const reports: RowReport[] = [];
  for (const row of planned) {
    try {
      reports.push(await repeatIfMoved(() => importOne(deps, job, row)));
    } catch (error) {
      // Where rows are written already, the caller must learn which: the failure becomes part of the report.
      if (!reports.some((report) => report.outcome === 'created' || report.outcome === 'updated')) throw error;
      deps.log.error({ error, requestId: job.requestId, row: row.row }, 'import stopped');
      const rest = planned.slice(reports.length);
      return [...reports, ...rest.map(({ row }) => notTried(row))];
    }
  }
  return reports;
}

function importOne(deps: Deps, job: ImportJob, row: PlannedRow): Promise<RowReport> {
  return inTransaction(deps.db.prisma, async (tx) => {
    // Before looking for the entry, so that nobody else enters the car in between.
    await lockCarNumbers(tx, job.eventId, [row.carNumber]);
    return importRow(tx, job, row);
  });
}

function notTried(row: number): RowReport {
  const detail = 'The server failed at this row or before it, so it was not written. Import the file again.';
  return { row, outcome: 'rejected', errors: [{ code: 'not-written', detail }] };
}

/** Runs it again while others change the same entries; each run reads anew what they left. */
async function repeatIfMoved<T>(run: () => Promise<T>): Promise<T> {
  for (let attempt = 1; ; attempt += 1) {
    try {
      return await run();
    } catch (error) {
      // Another run group for an entry is given without the lock on its number.
      const moved = error instanceof ProblemError && MOVED.has(error.slug);
      if (!moved && !isUniqueViolation(error, 'entries_event_id_run_group_id_car_number_key')) throw error;
      if (attempt < MAX_TRIES) continue;
      const detail = 'Others kept changing the same entries. Nothing was written.';
      throw new ProblemError('state-moved-on', detail, { currentState: 'being-changed' });
    }
  }
}

const isRejected = (report: RowReport): boolean => report.outcome === 'rejected';

function toReport(reports: readonly RowReport[], dryRun: boolean): ImportReport {
  const count = (outcome: RowReport['outcome']) => reports.filter((report) => report.outcome === outcome).length;
  return {
    dryRun,
    created: count('created'),
    updated: count('updated'),
    unchanged: count('unchanged'),
    rejected: count('rejected'),
    rows: reports.toSorted((a, b) => a.row - b.row),
  };
}

function notAcceptable(report: ImportReport): ProblemError {
  const bad = report.rows.filter(isRejected);
  const named = bad.slice(0, 3).map(({ row, errors = [] }) => {
    const columns = errors.map(({ column, detail }) => `${column === undefined ? '' : `${column}: `}${detail}`);
    return `row ${row}: ${columns.join(' ')}`;
  });
  const more = bad.length > named.length ? ` And ${bad.length - named.length} more.` : '';
  const detail = `Nothing was written. In ${named.join('; ')}${more}`;
  return new ProblemError('import-not-acceptable', detail, { ...report });
}
