import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound } from '../../http/problem.ts';
import type { VenueInput } from './schemas.ts';
import { findVenue, type StoredVenue, updateVenue } from './store.ts';

/**
 * Replaces a venue, starting from the version the caller read.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`
 */
export async function replaceVenue(
  deps: Deps,
  venueId: string,
  ifMatch: string | undefined,
  input: VenueInput,
): Promise<StoredVenue> {
  const current = await findVenue(deps.db.prisma, venueId);
  if (current === undefined) throw notFound('venue');
  assertIfMatch(ifMatch, etagOf(current.rev));
  const updated = await updateVenue(deps.db.prisma, venueId, current.rev, input);
  if (updated !== undefined) return updated;
  const winner = await findVenue(deps.db.prisma, venueId);
  throw stale(etagOf(winner?.rev ?? current.rev));
}
