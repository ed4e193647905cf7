import type { Deps } from '../../deps.ts';
import type { OpenCondition } from '../../domain/clearance/clearance.ts';
import { concessionsInForce, countingConcessions } from '../../domain/clearance/concession.ts';
import { expectedTurn } from '../../domain/line/line-forecast.ts';
import { type ConcessionInForce, manyConcessions, viewInForce } from '../../http/views/concession-view.ts';
import { notFound } from '../../http/frame/problem.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { OutboxEntry } from '../../platform/queue/outbox.ts';
import { getRules } from '../../records/judging/rules.ts';
import { clearanceExpireJob } from './clearance-expire.job.ts';
import { conditionDueJob } from './condition-due.job.ts';
import type { LineTicket } from './schemas.ts';
import { signOffNotifyJob } from './sign-off-notify.job.ts';
import { eventExists, type LineRow, listLine, listServiceMinutes } from './store.ts';

/**
 * The line of an event in the order of turns, with a rough estimate for each.
 *
 * @throws ProblemError `not-found`
 */
export async function getLine(deps: Deps, eventId: string): Promise<{ asOf: string; tickets: LineTicket[] }> {
  const db = deps.db.prisma;
  if (!(await eventExists(db, eventId))) throw notFound('event');
  const rows = await listLine(db, eventId);
  const service = await listServiceMinutes(db, eventId);
  const now = deps.clock.now();
  const inspectors = new Set(rows.flatMap((row) => row.inspectorName ?? [])).size;
  const tickets: LineTicket[] = [];
  for (const [index, row] of rows.entries()) {
    const concessions = await inForce(db, row, now);
    const expectedAt = expectedTurn(now, index + 1, inspectors, service);
    tickets.push({ ...ticketOf(row, index + 1), concessions, ...manyConcessions(concessions), expectedAt });
  }
  return { asOf: now.toISOString(), tickets };
}

async function inForce(db: Tx, row: LineRow, now: Date): Promise<ConcessionInForce[]> {
  const version = { ruleSetId: row.ruleSetId, ruleSetVersion: row.ruleSetVersion };
  const counting = countingConcessions(row.concessions, version);
  if (counting.length === 0) return [];
  const { rules } = (await getRules(db, { ...version, resolvedHash: row.resolvedHash })).compiled.ruleSet;
  return viewInForce(concessionsInForce(counting, rules, now), rules);
}

function ticketOf(row: LineRow, place: number): Omit<LineTicket, 'expectedAt' | 'concessions'> {
  return {
    ticketId: row.ticketId,
    place,
    entryId: row.entryId,
    inspectionId: row.inspectionId,
    carNumber: row.carNumber,
    runGroupId: row.runGroupId,
    runGroup: row.runGroup,
    vehicle: vehicleText(row.vehicle),
    // A car whose bars are all covered by concessions stands on the line, which must look at them.
    verdict: row.verdict === 'barred' ? 'to-inspect' : row.verdict,
    state: row.claimId === null ? 'waiting' : 'claimed',
    ...(row.claimId === null ? {} : { claimId: row.claimId }),
    ...(row.inspectorName === null ? {} : { claimedBy: row.inspectorName }),
    ...(row.expiresAt === null ? {} : { claimExpiresAt: row.expiresAt.toISOString() }),
    queuedAt: row.queuedAt.toISOString(),
    firstSessionAt: row.firstSessionAt.toISOString(),
  };
}

/** The car as somebody at the line would recognise it. */
export function vehicleText(vehicle: { description: string; colour?: string | undefined }): string {
  return vehicle.colour === undefined ? vehicle.description : `${vehicle.description}, ${vehicle.colour}`;
}

/** What time does after a sign-off: conditions that fall due, the end of the clearance, and the message. */
export function jobsAfterSignOff(signed: {
  signOffId: string;
  conditions: readonly OpenCondition[];
  validUntil: Date | undefined;
  requestId: string;
}): OutboxEntry[] {
  const { signOffId, validUntil, requestId } = signed;
  const due = signed.conditions.flatMap(({ id, dueAt }) =>
    dueAt === undefined ? [] : [{ payload: { conditionId: id }, runAt: new Date(dueAt) }],
  );
  return [
    { name: signOffNotifyJob.name, payload: { signOffId }, requestId },
    ...due.map((one) => ({ name: conditionDueJob.name, ...one, requestId })),
    ...(validUntil === undefined
      ? []
      : [{ name: clearanceExpireJob.name, payload: { signOffId }, runAt: validUntil, requestId }]),
  ];
}
