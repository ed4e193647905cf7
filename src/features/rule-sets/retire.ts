import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { isUniqueViolation } from '../../platform/db-errors.ts';
import type { VersionView } from './schemas.ts';
import { findVersion, insertRetirement } from './store.ts';

interface RetireRequest {
  ruleSetId: string;
  version: number;
  reason: string;
}

/**
 * Retires a published version: nothing new may point at it. What points at it already goes on as it is.
 *
 * @throws ProblemError `not-found`, `already-retired` with who did it before
 */
export async function retireVersion(deps: Deps, actor: Actor, request: RetireRequest): Promise<VersionView> {
  const { ruleSetId, version } = request;
  const found = await findVersion(deps.db.prisma, ruleSetId, version);
  if (found === undefined) throw notFound('version of a rule set');
  if (found.retired !== undefined) throw alreadyRetired(found);
  try {
    await insertRetirement(deps.db.prisma, actor, { ...request, retiredAt: deps.clock.now() });
  } catch (error) {
    if (!isUniqueViolation(error)) throw error;
    throw alreadyRetired((await findVersion(deps.db.prisma, ruleSetId, version)) ?? found);
  }
  return (await findVersion(deps.db.prisma, ruleSetId, version)) ?? found;
}

function alreadyRetired({ version, retired }: VersionView): ProblemError {
  const when = retired === undefined ? '' : ` at ${retired.at} by ${retired.by}`;
  return new ProblemError('already-retired', `Version ${version} was retired${when}.`, { retired });
}
