import type { Violation } from './violation.ts';
import type { Operation } from './history.ts';
import type { Decided } from './model.ts';
import type { HistoryRow, Truth } from './truth.ts';

/** A row of history that changes what the gate says, with the operation that asked for it. */
export interface Change extends Decided {
  entryId: string;
}

const KINDS: Readonly<Record<string, Operation['kind']>> = {
  'inspection.submitted': 'submit',
  'entry.signed-off': 'sign-off',
  'hold.placed': 'hold',
  'hold.lifted': 'lift',
};

/** The id that a row of history is about, and that its operation was answered with. */
const ID_NAMES = { submit: 'inspectionId', 'sign-off': 'signOffId', hold: 'holdId', lift: 'holdId' } as const;

type Found = { operation: Operation; id: string };

/**
 * Finds the operation behind every change in the history by the text that it carried, and the change behind every
 * operation: one for an acknowledged one, none for a refused one, at most one where nobody knows.
 */
export function matchWrites(
  operations: readonly Operation[],
  truth: Truth,
): { changes: Change[]; violations: Violation[] } {
  const violations: Violation[] = [];
  const byMarker = new Map(operations.filter(({ marker }) => marker !== '').map((one) => [one.marker, one]));
  const markerOf = markersIn(truth);
  const times = new Map<Operation, string[]>();
  const changes: Change[] = [];
  for (const row of truth.history) {
    const found = operationOf(row, markerOf, byMarker);
    if (found === undefined) continue;
    if (found === 'nobody') {
      violations.push({ promise: 'nothing happened that nobody asked for', what: `${row.action} of ${row.entry_id}` });
      continue;
    }
    const { operation, id } = found;
    times.set(operation, [...(times.get(operation) ?? []), id]);
    const { kind, intent, from } = operation;
    const to = Math.min(operation.to, truth.readAt);
    changes.push({
      entryId: row.entry_id,
      kind,
      intent,
      from,
      to,
      holdId: kind === 'hold' || kind === 'lift' ? id : '',
    });
  }
  for (const operation of operations) {
    if (operation.marker !== '') violations.push(...judge(operation, times.get(operation) ?? []));
  }
  return { changes, violations: [...violations, ...checkTables(operations, truth)] };
}

type Markers = ReadonlyMap<string, string>;

/** By which text each row can be told: the key that answered with its id. */
function markersIn(truth: Truth): Markers {
  return new Map(
    truth.keys.flatMap(({ key, body }) =>
      [body?.['signOffId'] ?? body?.['inspectionId']].flatMap((id) =>
        typeof id === 'string' ? [[id, key] as const] : [],
      ),
    ),
  );
}

function operationOf(
  row: HistoryRow,
  markers: Markers,
  byMarker: ReadonlyMap<string, Operation>,
): Found | 'nobody' | undefined {
  const kind = KINDS[row.action] as keyof typeof ID_NAMES | undefined;
  if (kind === undefined) return undefined;
  const event = row.data['event'] as Record<string, string>;
  const id = event[ID_NAMES[kind]] ?? '';
  const marker = kind === 'hold' ? event['reason'] : kind === 'lift' ? String(row.data['reason']) : markers.get(id);
  const operation = byMarker.get(marker ?? '');
  if (operation === undefined || operation.kind !== kind || operation.entryId !== row.entry_id) return 'nobody';
  return { operation, id };
}

function judge(operation: Operation, ids: readonly string[]): Violation[] {
  const { kind, client, outcome } = operation;
  const told = `${kind} of ${client}, ${outcome} (${operation.status}), ${ids.length} times in the history`;
  if (outcome === 'refused') return ids.length === 0 ? [] : [{ promise: 'refused write did not happen', what: told }];
  const once = { promise: 'acknowledged write is there once', what: told } as const;
  if (ids.length > 1) return [once];
  if (outcome === 'unknown') return [];
  const answered = operation.ids[ID_NAMES[kind as keyof typeof ID_NAMES]];
  return ids.length === 1 && ids[0] === answered ? [] : [once];
}

/** The tables say what the history says: every id once, revisions without a gap. */
function checkTables(operations: readonly Operation[], truth: Truth): Violation[] {
  const wrong = (what: string): Violation => ({ promise: 'acknowledged write is there once', what });
  const rows: Record<keyof typeof ID_NAMES, Set<string>> = {
    submit: new Set(truth.inspections.map(({ id }) => id)),
    'sign-off': new Set(truth.signOffs.map(({ id }) => id)),
    hold: new Set(truth.holds.map(({ id }) => id)),
    lift: new Set(truth.holds.filter((hold) => hold.lift_reason !== null).map(({ id }) => id)),
  };
  const violations: Violation[] = [];
  for (const { kind, outcome, ids, client } of operations) {
    if (!(kind in ID_NAMES) || outcome !== 'ok') continue;
    const known = kind as keyof typeof ID_NAMES;
    if (!rows[known].has(ids[ID_NAMES[known]] ?? '')) violations.push(wrong(`${kind} of ${client} has no row`));
  }
  const last = new Map<string, number>();
  for (const { entry_id: entryId, revision } of truth.inspections) {
    if (revision !== (last.get(entryId) ?? 0) + 1)
      violations.push(wrong(`${entryId} has no revision before ${revision}`));
    last.set(entryId, revision);
  }
  for (const [action, count] of [
    ['inspection.submitted', truth.inspections.length],
    ['entry.signed-off', truth.signOffs.length],
    ['hold.placed', truth.holds.length],
  ] as const) {
    const told = truth.history.filter((row) => row.action === action).length;
    if (told !== count) violations.push(wrong(`${count} rows, but ${told} times ${action} in the history`));
  }
  return violations;
}
