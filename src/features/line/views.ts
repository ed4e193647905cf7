import { claimOver, toldAt } from '../../records/tickets.ts';
import type { Deps } from '../../deps.ts';
import { type Actor, reachesEvent } from '../../domain/actor.ts';
import { cautionIn } from '../../domain/cautions.ts';
import { concessionsInForce, countingConcessions } from '../../domain/clearance/concession.ts';
import { refusedPoints } from '../../domain/clearance/inspect-again.ts';
import { type DonePoint, isClosed } from '../../domain/line/done-elsewhere.ts';
import { withChosen } from '../../domain/foresight/line-looks.ts';
import { expectedTurn } from '../../domain/line/line-forecast.ts';
import { placeOfPoint, type PointLimit } from '../../domain/rules/explain/explain-limits.ts';
import { alwaysIn, pointsToCheck, type PointToCheck } from '../../domain/line/points-to-check.ts';
import { isNear } from '../../domain/catalogue/item.ts';
import { type Finding, tallyOf, withoutMet } from '../../domain/rules/model/finding.ts';
import { findingsIn, languagesOf } from '../../domain/rules/says/rule-words.ts';
import { languageOf } from '../../http/frame/headers.ts';
import { notFound, type ProblemError } from '../../http/frame/problem.ts';
import { type ConcessionInForce, manyConcessions, viewInForce } from '../../http/views/clearance-view.ts';
import { viewFindings } from '../../http/views/finding-view.ts';
import type { Tx } from '../../platform/database/db.ts';
import { listStandingRefusals } from '../../records/what-stands.ts';
import { getRules } from '../../records/judging/rules.ts';
import { type LockedEntry, lockEntry, type LockLevel } from '../../records/locks/entry-lock.ts';
import { listPhotos } from '../../records/evidence.ts';
import { judgeAtLine } from './judge-at-line.ts';
import { chooseForClaim } from './looks.ts';
import type { ClaimView, LineTicket } from './schemas.ts';
import {
  type ClaimState,
  eventExists,
  findClaim,
  findOpenClaim,
  type LineRow,
  listInstruments,
  listLine,
  listServiceMinutes,
} from './store.ts';

/**
 * A claim with all that the inspector needs at the car.
 *
 * @throws ProblemError `not-found`
 */
export async function viewClaim(deps: Deps, claimId: string, accepts: Accepts): Promise<InLanguage> {
  const db = deps.db.prisma;
  const claim = await findClaim(db, claimId);
  if (claim === undefined) throw notFound('claim');
  const now = deps.clock.now();
  const line = await judgeAtLine(db, claim, now);
  const { inspection, answers, context, vehicle, rules, concessionsAt, done, always, doubts } = line;
  const judgement = line.asDeclared(now);
  const { verdict, findings } = judgement;
  const endsFirst = line.lastSafe(findings, now);
  const { ruleSet } = line;
  const language = languageOf(accepts, languagesOf(ruleSet));
  const said = findingsIn(findings, ruleSet, language);
  const refusals = await listStandingRefusals(db, claim.entryId);
  const refused = refusedPoints(refusals, vehicle);
  const concessions = viewInForce(concessionsAt(now), rules);
  const limits = line.limits(judgement, { now, language });
  const shown = { refused, always: alwaysIn(always, language), doubts: doubts(), language };
  const points = pointsToCheck(said, answers, vehicle, shown);
  const car = { claimId, inspectionId: claim.inspectionId, eventId: claim.eventId, vehicle, points, ruleSet };
  const looks = claim.looks ?? (await chooseForClaim(deps, car, now));
  const view: ClaimView = {
    claimId,
    ticketId: claim.ticketId,
    entryId: claim.entryId,
    inspectionId: claim.inspectionId,
    carNumber: context.carNumber,
    runGroup: context.runGroup,
    vehicle: vehicleText(context.vehicle),
    revision: inspection.revision,
    verdict,
    tally: tallyOf(findings),
    findings: viewFindings(withoutMet(said)),
    pointsToCheck: withChosen(points, looks, language).map((point) => ({
      ...point,
      ...doneFor(point, done, findings),
      ...heldAgainst(point, limits),
    })),
    ...(endsFirst === undefined ? {} : { lastSafe: endsFirst }),
    instruments: await listInstruments(db, context.event.eventId),
    refusals: refusals.map(({ runGroup, note }) => ({ runGroup, note })),
    photos: await listPhotos(db, claim.entryId),
    concessions,
    ...manyConcessions(concessions),
    sessions: [...context.sessions],
    leaseMinutes: claim.leaseSeconds / 60,
    expiresAt: claim.expiresAt.toISOString(),
    caution: cautionIn('general', language),
  };
  return { view, language };
}

/** The header that says so. */
export interface Accepts {
  'accept-language'?: string | undefined;
}

/** What a device shows, in the language that it asked for. */
export interface InLanguage {
  view: ClaimView;
  language: string;
}

/** What a number here is held against; nothing at a point that only looks. */
function heldAgainst(point: PointToCheck, limits: ReadonlyMap<string, PointLimit[]>): { limits?: PointLimit[] } {
  const here = limits.get(placeOfPoint(point));
  return here === undefined ? {} : { limits: here };
}

/** What was done at the point for another entry of the car. What the car was refused for is asked anew. */
function doneFor(point: PointToCheck, done: readonly DonePoint[], findings: readonly Finding[]) {
  if (point.asked === 'refused') return {};
  const found = done.find(({ item, position }) => item === point.item && isNear(position, point.position));
  if (found === undefined) return {};
  const { value, result, of } = found;
  const { runGroup, by, at } = of;
  const what = result === undefined ? { value } : { result };
  return { doneFor: { runGroup, by, at, ...what, counts: isClosed(found, findings) } };
}

/**
 * An own claim that is still open, for an inspector whose device lost it.
 *
 * @throws ProblemError `not-found`, `state-moved-on`
 */
export async function getOwnClaim(deps: Deps, actor: Actor, claimId: string, accepts: Accepts): Promise<InLanguage> {
  const claim = await findClaim(deps.db.prisma, claimId);
  if (claim === undefined || claim.inspectorId !== actor.tokenId) throw notFound('claim of yours');
  if (claim.endReason !== null) throw await claimEnded(deps.db.prisma, claim);
  return viewClaim(deps, claimId, accepts);
}

/**
 * Locks the entry of a claim of the actor's own and reads the claim under that lock.
 *
 * @throws ProblemError `not-found` when there is none or it is another inspector's
 */
export async function lockOwnClaim(
  tx: Tx,
  actor: Actor,
  claimId: string,
  level: LockLevel,
): Promise<{ claim: ClaimState; entry: LockedEntry }> {
  return lockClaim(tx, { claimId, level, whose: actor.tokenId });
}

/**
 * The same for giving a car free, which a chief inspector may do for another: his device may be lost.
 *
 * @throws ProblemError `not-found`
 */
export async function lockClaimToRelease(
  tx: Tx,
  actor: Actor,
  claimId: string,
): Promise<{ claim: ClaimState; entry: LockedEntry }> {
  const claim = await findClaim(tx, claimId);
  const reached = claim !== undefined && reachesEvent(actor, claim.eventId);
  const whose = actor.role === 'chief' && reached ? undefined : actor.tokenId;
  return lockClaim(tx, { claimId, level: 'entry', whose });
}

async function lockClaim(
  tx: Tx,
  { claimId, level, whose }: { claimId: string; level: LockLevel; whose: string | undefined },
): Promise<{ claim: ClaimState; entry: LockedEntry }> {
  const before = await findClaim(tx, claimId);
  const other = whose !== undefined && before?.inspectorId !== whose;
  if (before === undefined || other) throw notFound('claim of yours');
  const entry = await lockEntry(tx, before.entryId, level);
  const claim = await findClaim(tx, claimId);
  if (entry === undefined || claim === undefined) throw notFound('claim of yours');
  return { claim, entry };
}

/**
 * The refusal of a claim that is over, with who has the car now.
 */
export async function claimEnded(tx: Tx, claim: ClaimState): Promise<ProblemError> {
  const other = await findOpenClaim(tx, claim.ticketId);
  const taken = other !== undefined && other.claimId !== claim.claimId && !other.expired;
  return claimOver(claim, taken ? other.inspectorName : undefined);
}

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
    const turn = expectedTurn(now, index + 1, inspectors, service);
    const told = row.toldAt?.toISOString();
    const expectedAt = told !== undefined && told > turn ? told : turn;
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
  const told = toldAt(row.toldAt, row.lane);
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
    ...(told === undefined ? {} : { told }),
    ...(row.notHereAt === null ? {} : { notHereAt: row.notHereAt.toISOString() }),
  };
}

/** The car as somebody at the line would recognise it. */
function vehicleText(vehicle: { description: string; colour?: string | undefined }): string {
  return vehicle.colour === undefined ? vehicle.description : `${vehicle.description}, ${vehicle.colour}`;
}
