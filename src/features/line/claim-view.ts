import type { Actor } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { type DonePoint, isClosed } from '../../domain/done-elsewhere.ts';
import { type PointToCheck, pointsToCheck } from '../../domain/points-to-check.ts';
import { isNear, refusedPoints } from '../../domain/refused-points.ts';
import type { Finding } from '../../domain/rules/finding.ts';
import type { Deps } from '../../deps.ts';
import { manyConcessions, viewInForce } from '../../http/concession-view.ts';
import { viewFindings } from '../../http/finding-view.ts';
import { notFound } from '../../http/problem.ts';
import { listPhotos } from '../../records/photos.ts';
import { listStandingRefusals } from '../../records/refusals.ts';
import type { ClaimView } from './schemas.ts';
import { judgeAtLine } from './judge-at-line.ts';
import { claimEnded } from './own-claim.ts';
import { findClaim } from './store.ts';
import { vehicleText } from './view-line.ts';

/**
 * A claim with all that the inspector needs at the car.
 *
 * @throws ProblemError `not-found`
 */
export async function viewClaim(deps: Deps, claimId: string): Promise<ClaimView> {
  const db = deps.db.prisma;
  const claim = await findClaim(db, claimId);
  if (claim === undefined) throw notFound('claim');
  const now = deps.clock.now();
  const { inspection, answers, context, rules, concessionsAt, asDeclared, done } = await judgeAtLine(db, claim, now);
  const { verdict, findings } = asDeclared(now);
  const refusals = await listStandingRefusals(db, claim.entryId);
  const refused = refusedPoints(refusals, inspection.vehicle);
  const concessions = viewInForce(concessionsAt(now), rules);
  return {
    claimId,
    ticketId: claim.ticketId,
    entryId: claim.entryId,
    inspectionId: claim.inspectionId,
    carNumber: context.carNumber,
    runGroup: context.runGroup,
    vehicle: vehicleText(context.vehicle),
    revision: inspection.revision,
    verdict,
    findings: viewFindings(findings),
    pointsToCheck: pointsToCheck(findings, answers, inspection.vehicle, refused).map((point) => ({
      ...point,
      ...doneFor(point, done, findings),
    })),
    refusals: refusals.map(({ runGroup, note }) => ({ runGroup, note })),
    photos: await listPhotos(db, claim.entryId),
    concessions,
    ...manyConcessions(concessions),
    leaseMinutes: claim.leaseSeconds / 60,
    expiresAt: claim.expiresAt.toISOString(),
    caution: GENERAL_CAUTION,
  };
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
export async function getOwnClaim(deps: Deps, actor: Actor, claimId: string): Promise<ClaimView> {
  const claim = await findClaim(deps.db.prisma, claimId);
  if (claim === undefined || claim.inspectorId !== actor.tokenId) throw notFound('claim of yours');
  if (claim.endReason !== null) throw await claimEnded(deps.db.prisma, claim);
  return viewClaim(deps, claimId);
}
