import type { Actor } from '../../domain/actor.ts';
import { GENERAL_CAUTION } from '../../domain/caution-text.ts';
import { pointsToCheck } from '../../domain/points-to-check.ts';
import { refusedPoints } from '../../domain/refused-points.ts';
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
  const { inspection, answers, context, rules, concessionsAt, asDeclared } = await judgeAtLine(db, claim);
  const now = deps.clock.now();
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
    pointsToCheck: pointsToCheck(findings, answers, inspection.vehicle, refused),
    refusals: refusals.map(({ runGroup, note }) => ({ runGroup, note })),
    photos: await listPhotos(db, claim.entryId),
    concessions,
    ...manyConcessions(concessions),
    leaseMinutes: claim.leaseSeconds / 60,
    expiresAt: claim.expiresAt.toISOString(),
    caution: GENERAL_CAUTION,
  };
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
