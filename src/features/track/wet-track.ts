import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { decideClearance } from '../../domain/clearance/decide-clearance.ts';
import { WET_SWITCHED } from '../../domain/history/webhook-messages.ts';
import { notFound } from '../../http/frame/problem.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { lockEvent, recordEventChange } from '../../records/history/event-history.ts';
import type { TrackInput, TrackView } from './schemas.ts';
import { findTrack, listTrackEntries, type TrackRow, writeTrack } from './store.ts';

interface GroupIds {
  eventId: string;
  runGroupId: string;
}

/**
 * How the track stands for a run group, and which of its cars that may go onto a dry one stay in while it is wet.
 *
 * @throws ProblemError `not-found`
 */
export async function readTrack(deps: Deps, ids: GroupIds): Promise<TrackView> {
  const db = deps.db.prisma;
  const track = await findTrack(db, ids);
  if (track === undefined) throw notFound('run group');
  return viewTrack(db, track, deps.clock.now());
}

/**
 * Says that the track is wet for a run group, or dry again. It counts at the gate with the commit, and stands in the history
 * of the event. Saying what is so already changes nothing.
 *
 * @throws ProblemError `not-found`
 */
export async function switchTrack(
  deps: Deps,
  actor: Actor,
  { ids, input, requestId }: { ids: GroupIds; input: TrackInput; requestId: string },
): Promise<TrackView> {
  return inTransaction(deps.db.prisma, async (tx) => {
    const locked = await lockEvent(tx, ids.eventId);
    const track = locked && (await findTrack(tx, ids));
    if (locked === undefined || track === undefined) throw notFound('run group');
    const at = await decisionTime(tx, deps.clock);
    if (input.wet === (track.wetSince !== null)) return viewTrack(tx, track, at);
    await writeTrack(tx, ids.runGroupId, input.wet ? { since: at, by: actor.tokenId, name: actor.name } : null);
    const now = { ...track, wetSince: input.wet ? at : null, wetName: input.wet ? actor.name : null };
    const view = await viewTrack(tx, now, at);
    const { runGroupId } = ids;
    const { reason, wet } = input;
    const data = { runGroupId, wet, stayIn: view.stayIn, ...(reason === undefined ? {} : { reason }) };
    await recordEventChange(tx, locked, { actor, at, action: WET_SWITCHED, data, requestId });
    return view;
  });
}

async function viewTrack(db: Tx, { runGroupId, name, wetSince, wetName }: TrackRow, now: Date): Promise<TrackView> {
  const entries = await listTrackEntries(db, runGroupId);
  const dry = entries.filter(({ state }) => decideClearance({ ...state, wet: false }, now).admit);
  const stayIn = dry.flatMap(({ entryId, carNumber, state }) => {
    const { admit, reason } = decideClearance({ ...state, wet: true }, now);
    return admit ? [] : [{ entryId, carNumber, reason }];
  });
  return {
    runGroupId,
    runGroup: name,
    wet: wetSince !== null,
    since: wetSince?.toISOString() ?? null,
    by: wetName,
    wouldGo: dry.length,
    stayIn: stayIn.length,
    cars: stayIn,
  };
}
