import type { Violation } from './violation.ts';
import type { Operation, Recorded, Span } from './history.ts';
import type { HistoryRow, Truth } from './truth.ts';

/** Nobody holds a ticket that somebody else holds, and no claim is signed off twice. */
export function checkLine(
  recorded: Recorded,
  byEntry: ReadonlyMap<string, readonly HistoryRow[]>,
  truth: Truth,
): Violation[] {
  const rows = [...byEntry.values()];
  return [
    ...rows.flatMap(replay),
    ...checkClaims(recorded.operations, rows.flat()),
    ...checkTenures(recorded),
    ...checkSignOffs(recorded.operations, truth),
  ];
}

/** Plays the history of one car: who holds it, by the order in which it was written. */
function replay(rows: readonly HistoryRow[]): Violation[] {
  const violations: Violation[] = [];
  let open: string | undefined;
  for (const row of rows) {
    const wrong = faultOf(row, open);
    if (wrong !== undefined) {
      violations.push({ promise: 'ticket is held once', what: `${row.entry_id} at ${row.seq}: ${wrong}` });
    }
    open = holderAfter(row, open);
  }
  return violations;
}

const claimIn = (row: HistoryRow) => row.data['claimId'] as string | undefined;

/** What is wrong with a row, when `open` is the claim that holds the car before it. */
function faultOf(row: HistoryRow, open: string | undefined): string | undefined {
  const claimId = claimIn(row);
  switch (row.action) {
    case 'ticket.claimed':
      return open === undefined || row.data['tookOverFrom'] === open ? undefined : `claimed while ${open} holds it`;
    case 'claim.renewed':
      return open === claimId ? undefined : `${claimId} renewed while ${open ?? 'nobody'} holds it`;
    case 'entry.signed-off':
      return open === claimId ? undefined : `signed off by ${claimId} while ${open ?? 'nobody'} holds it`;
    default:
      return undefined;
  }
}

function holderAfter(row: HistoryRow, open: string | undefined): string | undefined {
  const event = row.data['event'] as { requiresReinspection?: boolean } | undefined;
  switch (row.action) {
    case 'ticket.claimed':
      return claimIn(row);
    case 'entry.signed-off':
    case 'inspection.submitted':
    case 'entry.sent-back':
      return undefined;
    case 'ticket.put-back':
    case 'claim.expired':
      return open === claimIn(row) ? undefined : open;
    default:
      return event?.requiresReinspection === true ? undefined : open;
  }
}

/** Every acknowledged claim is in the history, and there are no more others than claims that nobody got an answer to. */
function checkClaims(operations: readonly Operation[], rows: readonly HistoryRow[]): Violation[] {
  const claims = operations.filter(({ kind }) => kind === 'claim');
  const written = rows.filter(({ action }) => action === 'ticket.claimed').map(({ data }) => String(data['claimId']));
  const times = new Map<string, number>();
  for (const id of written) times.set(id, (times.get(id) ?? 0) + 1);
  const acknowledged = claims.filter(({ outcome, status }) => outcome === 'ok' && status === 201);
  const lost = acknowledged.filter(({ ids }) => times.get(ids['claimId'] ?? '') !== 1);
  const unknown = claims.filter(({ outcome }) => outcome === 'unknown').length;
  const others = written.length - acknowledged.length;
  const violations = lost.map(
    ({ client }): Violation => ({ promise: 'acknowledged write is there once', what: `claim of ${client}` }),
  );
  if (others <= unknown) return violations;
  const what = `${others} claims without an answer, but only ${unknown} questions without one`;
  return [...violations, { promise: 'nothing happened that nobody asked for', what }];
}

/** What inspectors know for themselves: two who each got the same ticket while the other certainly still had it. */
function checkTenures({ operations, leaseEnds }: Recorded): Violation[] {
  const claims = operations.filter(
    ({ kind, outcome, status }) => kind === 'claim' && outcome === 'ok' && status === 201,
  );
  const byTicket = new Map<string, Operation[]>();
  for (const claim of claims) {
    const ticketId = claim.ids['ticketId'] ?? '';
    byTicket.set(ticketId, [...(byTicket.get(ticketId) ?? []), claim]);
  }
  const ends = firstEnds(operations);
  const violations: Violation[] = [];
  for (const same of byTicket.values()) {
    for (const mine of same) {
      const until = certainUntil(mine, ends, leaseEnds);
      const taken = same.find((other) => other !== mine && other.from >= mine.to && other.to <= until);
      if (taken === undefined) continue;
      violations.push({
        promise: 'ticket is held once',
        what: `${mine.client} and ${taken.client} both held a ticket`,
      });
    }
  }
  return violations;
}

/** When the holder of each claim first asked for something that can end it. */
function firstEnds(operations: readonly Operation[]): ReadonlyMap<string, number> {
  const ends = new Map<string, number>();
  for (const { kind, from, intent } of operations) {
    if ((kind !== 'put-back' && kind !== 'sign-off') || intent.claimId === undefined) continue;
    ends.set(intent.claimId, Math.min(from, ends.get(intent.claimId) ?? Infinity));
  }
  return ends;
}

const LEASE_MS = 60_000;

function certainUntil(claim: Operation, ends: ReadonlyMap<string, number>, leaseEnds: readonly Span[]): number {
  const asked = ends.get(claim.ids['claimId'] ?? '') ?? Infinity;
  const moved = leaseEnds.filter(({ to }) => to >= claim.from).map(({ from }) => from);
  // The lease began at some instant of the question, so it certainly lasts a minute from when that was asked.
  return Math.min(asked, claim.from + LEASE_MS, ...moved);
}

function checkSignOffs(operations: readonly Operation[], truth: Truth): Violation[] {
  const times = new Map<string, number>();
  for (const { claim_id: claimId } of truth.signOffs) times.set(claimId, (times.get(claimId) ?? 0) + 1);
  const told = new Map<string, number>();
  for (const { kind, outcome, intent } of operations) {
    if (kind !== 'sign-off' || outcome !== 'ok' || intent.claimId === undefined) continue;
    told.set(intent.claimId, (told.get(intent.claimId) ?? 0) + 1);
  }
  const twice = [...times, ...told].filter(([, count]) => count > 1).map(([claimId]) => claimId);
  return [...new Set(twice)].map((claimId) => ({
    promise: 'sign-off is once per claim',
    what: `${claimId}: ${times.get(claimId) ?? 0} rows, ${told.get(claimId) ?? 0} acknowledged`,
  }));
}
