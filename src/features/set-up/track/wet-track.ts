import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../../deps.ts';
import { type Actor, STAFF } from '../../../domain/actor.ts';
import { decideClearance } from '../../../domain/clearance/decide-clearance.ts';
import { WET_SWITCHED } from '../../../domain/history/webhook-messages.ts';
import { Id, InstantOut, text } from '../../../http/frame/common-schemas.ts';
import { notFound } from '../../../http/frame/problem.ts';
import { addRoute } from '../../../http/frame/route.ts';
import { decisionTime } from '../../../platform/clock.ts';
import { inTransaction, type Tx } from '../../../platform/database/db.ts';
import { lockEvent, recordEventChange } from '../../../records/history/event-history.ts';
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
async function readTrack(deps: Deps, ids: GroupIds): Promise<TrackView> {
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
async function switchTrack(
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

const trackParams = z.strictObject({ eventId: Id, runGroupId: Id });
const PATH = '/events/:eventId/run-groups/:runGroupId/track';

/** Whether the track is wet for a run group: staff read it, organizers and chief inspectors say it. */
export async function trackRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: PATH,
    operationId: 'getTrack',
    summary: 'Read whether the track is wet for a run group, and which cars stay in then',
    description: 'The numbers are those of a wet track, also while it is dry: read them before you say that it is wet.',
    tag: 'Events',
    access: STAFF,
    params: trackParams,
    success: { 200: { description: 'The track for this group', schema: TrackView, example: TRACK_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params }) => ({ status: 200, body: await readTrack(deps, params) }),
  });
  addRoute(app, {
    method: 'PUT',
    path: PATH,
    operationId: 'setTrack',
    summary: 'Say that the track is wet for a run group, or dry again',
    description:
      'While it is wet, the gate keeps in what has slicks, a groove below the parameter `wetTreadMinimum` of the rules ' +
      '(3 mm without one), or a tread that is not known, and says why; this counts at once, also in the signed list. ' +
      'Decided by what was last declared or measured. Dry again, and every car has its clearance back. Saying what is ' +
      'so already changes nothing.',
    tag: 'Events',
    access: ['organizer', 'chief'],
    params: trackParams,
    body: TrackInput,
    bodyExample: { wet: true, reason: 'Rain over the whole circuit' },
    success: { 200: { description: 'The track as it is now', schema: TrackView, example: TRACK_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await switchTrack(deps, actor, { ids: params, input: body, requestId: request.id }),
    }),
  });
}

const TrackInput = z
  .strictObject({
    wet: z.boolean().describe('`true`: the track is wet for this group; `false`: it is dry again'),
    reason: text(300).optional().describe('Why, for the history of the event'),
  })
  .meta({ id: 'Track' });
type TrackInput = z.infer<typeof TrackInput>;

const TrackView = z
  .object({
    runGroupId: Id,
    runGroup: z.string().describe('Name of the run group'),
    wet: z.boolean().describe('Whether the track is wet for this group now'),
    since: InstantOut.nullable().describe('Since when it is wet; null: it is dry'),
    by: z.string().nullable().describe('Who said so; null: it is dry'),
    wouldGo: z.int().min(0).describe('Cars that may go onto a dry track now'),
    stayIn: z.int().min(0).describe('Of these, cars that may not while it is wet'),
    cars: z
      .array(
        z.object({
          entryId: Id,
          carNumber: z.string().describe('Exact text'),
          reason: z.string().describe('What the gate says of it while it is wet'),
        }),
      )
      .describe('Those that stay in, by car number'),
  })
  .meta({ id: 'TrackView' });
type TrackView = z.infer<typeof TrackView>;

const TRACK_EXAMPLE: TrackView = {
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  runGroup: 'Intermediate',
  wet: true,
  since: '2026-06-13T08:12:00.000Z',
  by: 'Chief inspector',
  wouldGo: 23,
  stayIn: 1,
  cars: [
    {
      entryId: '019ab8f0-0000-7000-8000-0000000000e7',
      carNumber: '42',
      reason: 'Wet track: slicks on the car.',
    },
  ],
};
