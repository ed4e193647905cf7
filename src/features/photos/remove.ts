import type { Actor } from '../../domain/actor.ts';
import { decideClearance } from '../../domain/decide-clearance.ts';
import type { Deps } from '../../deps.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { type LockedEntry, lockEntry, stateOf } from '../../records/entry-lock.ts';
import { recordEvent } from '../../records/history.ts';
import { getPhoto } from './read.ts';
import { isNewestSignedOff, type Photo, updateRemoved } from './store.ts';

/**
 * Takes a photo away: from now on it counts for nothing and is served to nobody. What was judged with it stays as it was
 * judged; the line judges with the photos that are there.
 *
 * An entrant removes photos that an entrant sent, until the line has decided about the newest revision. A chief removes
 * any, except of a car of the own.
 *
 * @throws ProblemError `not-found`, `forbidden` (sent by the staff), `conflict-of-interest`, `state-moved-on`
 */
export async function removePhoto(
  deps: Deps,
  actor: Actor,
  { photoId, requestId }: { photoId: string; requestId: string },
): Promise<void> {
  const photo = await getPhoto(deps, actor, photoId);
  await inTransaction(deps.db.prisma, async (tx) => {
    const entry = await lockEntry(tx, photo.entryId);
    if (entry === undefined) throw notFound('photo');
    const now = deps.clock.now();
    if (actor.role === 'entrant') await assertEntrantMay(tx, entry, photo, now);
    else await assertNoInterest(tx, actor, entry.entryId);
    if (!(await updateRemoved(tx, photoId, now))) throw notFound('photo');
    const { item, position, hash } = photo;
    const data = { photoId, item, ...(position === undefined ? {} : { position }), hash };
    await recordEvent(tx, entry, { actor, at: now, action: 'photo.removed', data, requestId });
  });
}

async function assertEntrantMay(tx: Tx, entry: LockedEntry, photo: Photo, now: Date): Promise<void> {
  if (photo.uploadedRole !== 'entrant') {
    throw new ProblemError(
      'forbidden',
      `This photo was sent by the ${photo.uploadedRole}; a chief inspector removes it.`,
    );
  }
  if (!(await isNewestSignedOff(tx, entry.entryId))) return;
  const { status } = decideClearance(stateOf(entry), now);
  const detail = 'The line has decided about this car with its photos; a chief inspector removes them.';
  throw new ProblemError('state-moved-on', detail, { currentState: status });
}
