import { createHash } from 'node:crypto';
import canonicalizeModule from 'canonicalize';
import { checkImports } from './check-imports.ts';
import { checkSeal } from './check-seal.ts';
import { checkGate } from './check-gate.ts';
import { checkJobs } from './check-jobs.ts';
import { checkLine } from './check-line.ts';
import { type Change, matchWrites } from './check-writes.ts';
import type { Recorded } from './history.ts';
import type { HistoryRow, Truth } from './truth.ts';
import { groupBy, type Violation } from './violation.ts';

// The package is CommonJS whose typings describe an ES default export; at run time the import is the function.
const canonicalize = canonicalizeModule as unknown as (value: unknown) => string;

export interface Checked {
  violations: Violation[];
  /** lookups that admitted a car which the history did not admit at any instant of the question */
  harmfulStaleReads: number;
  /** what was looked at, so that "no violation" is not said of nothing */
  counts: Record<string, number>;
}

/**
 * Compares what clients were told with what the database holds at the end, by a model that shares no code with the
 * service. Operations that were never answered may have happened or not; all others bind.
 *
 * @param toldLines what the log said of messages to entrants, as `kind/id`
 */
export function check(recorded: Recorded, truth: Truth, toldLines: readonly string[]): Checked {
  const matched = matchWrites(recorded.operations, truth);
  const byEntry = groupBy(truth.history, ({ entry_id: entryId }) => entryId);
  const changes = groupBy(matched.changes, ({ entryId }) => entryId);
  const gate = checkGate(recorded, changes, truth);
  const violations: Violation[] = [
    ...matched.violations,
    ...[...groupBy(truth.history, (row) => row.car_id ?? row.entry_id)].flatMap(([subject, rows]) =>
      checkChain(subject, rows, truth),
    ),
    ...checkImports(recorded.operations, truth),
    ...checkSeal(truth),
    ...checkLine(recorded, byEntry, truth),
    ...gate.violations,
    ...checkJobs(truth, toldLines),
    ...recorded.absurd.map((what): Violation => ({ promise: 'no absurd answer', what })),
  ];
  return { violations, harmfulStaleReads: gate.harmful, counts: countsOf(recorded, truth, matched.changes) };
}

function countsOf(recorded: Recorded, truth: Truth, changes: readonly Change[]): Record<string, number> {
  const { operations, lookups } = recorded;
  const by = (outcome: string) => operations.filter((operation) => operation.outcome === outcome).length;
  return {
    operations: operations.length,
    acknowledged: by('ok'),
    refused: by('refused'),
    unknown: by('unknown'),
    changes: changes.length,
    historyRows: truth.history.length,
    lookups: lookups.length,
    admitted: lookups.filter(({ admit }) => admit).length,
    unanswered: recorded.unanswered,
    claims: truth.history.filter(({ action }) => action === 'ticket.claimed').length,
    signOffs: truth.signOffs.length,
    outboxRows: truth.outbox.length,
    notifications: truth.notifications.length,
    leaves: truth.leaves.length,
    imports: operations.filter(({ kind, outcome }) => kind === 'import' && outcome === 'ok').length,
  };
}

/** The chain, computed again: SHA-256 over the canonical JSON (RFC 8785) of each row with the hash before it. */
function checkChain(subject: string, rows: readonly HistoryRow[], truth: Truth): Violation[] {
  const broken = (what: string): Violation[] => [{ promise: 'chain is intact', what }];
  let prevHash = '';
  for (const [index, row] of rows.entries()) {
    const { seq, action, actor_id: actorId, actor_role: actorRole, at, data } = row;
    const about = row.car_id === null ? { entryId: row.entry_id } : { carId: row.car_id };
    const text = canonicalize({ ...about, seq, action, actorId, actorRole, at, data, prevHash });
    const hash = createHash('sha256').update(text).digest('hex');
    if (seq !== index + 1 || row.prev_hash !== prevHash || row.hash !== hash) return broken(`${subject} at ${seq}`);
    prevHash = hash;
  }
  const head = truth.heads.find((one) => one.subject === subject);
  return head?.seq === rows.length && head.hash === prevHash ? [] : broken(`${subject}: the head is another row`);
}
