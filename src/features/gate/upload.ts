import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { contradictionOf, type EntryTimeline } from './upload-compare.ts';
import type { UploadedCheck, UploadedChecks } from './upload-schemas.ts';
import { hasEvent, insertChecks, listTimelines, readChainTimes } from './upload-store.ts';

/**
 * Keeps checks that a device made by itself. They have happened already, so none is refused: each is compared with what
 * the server knew at that time, and what does not fit is marked. Uploading the same checks again changes nothing.
 *
 * @throws ProblemError `not-found` (event)
 */
export async function uploadChecks(
  deps: Deps,
  actor: Actor,
  { eventId, checks }: { eventId: string; checks: readonly UploadedCheck[] },
): Promise<UploadedChecks> {
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    if (!(await hasEvent(tx, eventId))) throw notFound('event');
    const timelines = await listTimelines(tx, eventId, unique(checks.map(({ carNumber }) => carNumber)));
    const seqs = unique(checks.map(({ snapshotSeq }) => snapshotSeq));
    const chain = await readChainTimes(tx, { eventId, tokenId: actor.tokenId, seqs });
    const timelinesOf = new Map(timelines.map(({ carNumber }) => [carNumber, withNumber(timelines, carNumber)]));
    const rows = checks.map((check) => {
      const asked = { ...check, askedAt: new Date(check.askedAt) };
      const known = { timelines: timelinesOf.get(check.carNumber) ?? [], chain, now };
      return { ...asked, contradicts: contradictionOf(asked, known) };
    });
    const added = new Set(await insertChecks(tx, rows, { eventId, actor, uploadedAt: now }));
    const marked = rows.filter(({ clientId, contradicts }) => contradicts !== undefined && added.has(clientId));
    return {
      new: added.size,
      known: checks.length - added.size,
      contradictions: unique(marked.map(({ clientId }) => clientId)).length,
    };
  });
}

const withNumber = (timelines: readonly EntryTimeline[], carNumber: string) =>
  timelines.filter((timeline) => timeline.carNumber === carNumber);

const unique = <T>(values: readonly T[]): T[] => [...new Set(values)];
