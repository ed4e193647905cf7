import type { Deps } from '../../deps.ts';
import { type Actor, reachesEvent } from '../../domain/actor.ts';
import { cautionIn } from '../../domain/cautions.ts';
import { type DonePoint, isClosed } from '../../domain/line/done-elsewhere.ts';
import { placeOfPoint, type PointLimit } from '../../domain/line/point-limits.ts';
import { alwaysIn, pointsToCheck, type PointToCheck } from '../../domain/line/points-to-check.ts';
import { refusedPoints } from '../../domain/clearance/refused-points.ts';
import { isNear } from '../../domain/positions.ts';
import { type Finding, tallyOf, withoutMet } from '../../domain/rules/model/finding.ts';
import { findingsIn, languagesOf } from '../../domain/rules/says/rule-words.ts';
import { languageOf } from '../../http/frame/language.ts';
import { manyConcessions, viewInForce } from '../../http/views/concession-view.ts';
import { viewFindings } from '../../http/views/finding-view.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import type { Tx } from '../../platform/database/db.ts';
import { listStandingRefusals } from '../../records/concessions.ts';
import { type LockedEntry, lockEntry, type LockLevel } from '../../records/locks/entry-lock.ts';
import { listPhotos } from '../../records/photos.ts';
import { judgeAtLine } from './judge-at-line.ts';
import type { ClaimView } from './schemas.ts';
import { type ClaimState, findClaim, findOpenClaim, listInstruments } from './store.ts';
import { vehicleText } from './view-line.ts';

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
  const { inspection, answers, context, vehicle, rules, concessionsAt, done, always } = line;
  const judgement = line.asDeclared(now);
  const { verdict, findings } = judgement;
  const { ruleSet } = line;
  const language = languageOf(accepts, languagesOf(ruleSet));
  const said = findingsIn(findings, ruleSet, language);
  const refusals = await listStandingRefusals(db, claim.entryId);
  const refused = refusedPoints(refusals, vehicle);
  const concessions = viewInForce(concessionsAt(now), rules);
  const limits = line.limits(judgement, { now, language });
  const shown = { refused, always: alwaysIn(always, language), language };
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
    pointsToCheck: pointsToCheck(said, answers, vehicle, shown).map((point) => ({
      ...point,
      ...doneFor(point, done, findings),
      ...heldAgainst(point, limits),
    })),
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

/** The same where it is known who has the car now. */
export function claimOver({ endReason }: Pick<ClaimState, 'endReason'>, claimedBy: string | undefined): ProblemError {
  const state = endReason ?? 'expired';
  const taken = claimedBy !== undefined;
  const detail = taken ? `${claimedBy} has the car now.` : 'Renew it if it has just run out, or claim the car again.';
  return new ProblemError('state-moved-on', `This claim is over (${state}). ${detail}`, {
    currentState: state,
    ...(taken ? { claimedBy } : {}),
  });
}
