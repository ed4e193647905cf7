import { setImmediate as nextTurn } from 'node:timers/promises';
import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { isUniqueViolation } from '../../platform/db-errors.ts';
import { Id } from '../../http/common-schemas.ts';
import { type Known, mapRunGroups, readKnown } from './csv-store.ts';
import { readTableInThread } from './csv-read.ts';
import type { ImportRow } from './csv-table.ts';
import { applySteps, Moved } from './import-apply.ts';
import { type PlannedRow, planRows } from './import-plan.ts';
import { notAcceptable, notTried, toReport } from './import-report.ts';
import { planRow, type RowPlan, vehicleIdOf } from './import-row.ts';
import type { ImportReport, RowReport } from './import-schemas.ts';
import { openState } from './import-state.ts';
import type { NumberRules } from './number-check.ts';
import { findNumberRules } from './store.ts';

interface Import {
  eventId: string;
  /** the file */
  text: string;
  partial: boolean;
  dryRun: boolean;
  requestId: string;
}

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

/** A file of more rows than this is written in parts, so that no lock is held for long. */
export const MOST_AT_ONCE = 500;
const CHUNK = 100;
const MAX_TRIES = 5;
const ROWS_PER_TURN = 10;

/**
 * Enters and changes cars from a file. Every row is planned before the first is written and outside of any lock; a dry
 * run ends there. Up to `MOST_AT_ONCE` rows are written in one short transaction; more, or with `partial`, in parts of
 * `CHUNK` rows. Repeating an import changes nothing more, and finishes what broke off.
 *
 * @throws ProblemError `not-found` (event), `import-not-acceptable` with the report, `state-moved-on` (others kept
 *   changing the event)
 */
export async function importEntries(deps: Deps, actor: Actor, input: Import): Promise<ImportReport> {
  const { eventId, dryRun, partial, requestId } = input;
  const rules = await findNumberRules(deps.db.prisma, eventId);
  if (rules === undefined) throw notFound('event');
  const table = await readTableInThread(deps, actor, input.text);
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
  if (dryRun) return report;
  if (partial || ordered.length > MOST_AT_ONCE) return toReport(await writeInParts(deps, job, ordered), false);
  const written = toReport(await write(deps, job, ordered, { known, plans: foreseen }), false);
  return written;
}

const namedCars = (rows: readonly ImportRow[]): string[] => [
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
 * Writes rows in one transaction. Where the event is no longer as it was planned for they are planned anew, and the good
 * ones are written only if none is bad, or if the rows are written in parts.
 */
async function write(deps: Deps, job: ImportJob, rows: readonly PlannedRow[], first?: Planned): Promise<RowReport[]> {
  let planned = first;
  for (let attempt = 1; attempt <= MAX_TRIES; attempt += 1) {
    planned ??= await planNow(deps, job, rows);
    const { known, plans } = planned;
    const reports = plans.map(reportOf);
    const rejected = reports.some(({ outcome }) => outcome === 'rejected');
    if (first !== undefined && rejected)
      throw notAcceptable(
        toReport(
          plans.map(({ report }) => report),
          false,
        ),
      );
    const steps = plans.flatMap(({ step }) => step ?? []);
    if (steps.length === 0) return reports;
    try {
      await inTransaction(deps.db.prisma, (tx) => applySteps(tx, job, known, steps));
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

async function writeInParts(deps: Deps, job: ImportJob, rows: readonly PlannedRow[]): Promise<RowReport[]> {
  const reports: RowReport[] = [];
  for (let from = 0; from < rows.length; from += CHUNK) {
    const { done, error } = await writePart(deps, job, rows.slice(from, from + CHUNK));
    reports.push(...done);
    if (error === undefined) continue;
    // Where rows are written already, the caller must learn which: the failure becomes part of the report.
    if (!reports.some(({ outcome }) => outcome === 'created' || outcome === 'updated')) throw error;
    deps.log.error({ error, requestId: job.requestId, row: rows[reports.length]?.row }, 'import stopped');
    return [...reports, ...rows.slice(reports.length).map(({ row }) => notTried(row))];
  }
  return reports;
}

/** Writes a part at once, or where that fails row by row up to the one that cannot be written. */
async function writePart(
  deps: Deps,
  job: ImportJob,
  part: readonly PlannedRow[],
): Promise<{ done: RowReport[]; error?: unknown }> {
  try {
    return { done: await write(deps, job, part) };
  } catch (error) {
    if (part.length === 1 || error instanceof ProblemError) return { done: [], error };
  }
  const done: RowReport[] = [];
  for (const row of part) {
    const one = await writePart(deps, job, [row]);
    done.push(...one.done);
    if (one.error !== undefined) return { done, error: one.error };
  }
  return { done };
}
