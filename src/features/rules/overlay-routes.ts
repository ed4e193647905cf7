import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { Overlay } from '../../domain/rules/overlay/overlay.ts';
import { inThread, URGENCY } from '../../http/body/in-thread.ts';
import { Id, IfMatch, InstantOut } from '../../http/frame/common-schemas.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/headers.ts';
import { nameFaults, notFound, ProblemError } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { recordEventsChange } from '../../records/history/event-history.ts';
import { resolveRulesTask } from '../../records/judging/rules.task.ts';
import {
  deleteOverlay,
  findNewestVersion,
  findOverlay,
  listConcerned,
  listOverlays,
  saveOverlay,
  type StoredOverlay,
  venueExists,
} from './overlay-store.ts';

const VenueOverlayInput = Overlay.meta({ id: 'VenueOverlay' });
type VenueOverlayInput = z.infer<typeof VenueOverlayInput>;

const VenueOverlayView = z
  .object({
    venueId: Id,
    ruleSetId: Id,
    parameters: z.record(z.string(), z.record(z.string(), z.unknown())).describe('Limits that are different here'),
    effects: z.record(z.string(), z.record(z.string(), z.unknown())).describe('Changed effects by rule id'),
    rules: z.array(z.record(z.string(), z.unknown())).describe('Rules of this venue'),
    checkedAgainst: z.int().describe('The published version it was checked against'),
    updatedAt: InstantOut,
  })
  .meta({ id: 'VenueOverlayView' });
type VenueOverlayView = z.infer<typeof VenueOverlayView>;

const VenueOverlayList = z
  .object({ overlays: z.array(VenueOverlayView.omit({ checkedAgainst: true })).describe('One per rule set') })
  .meta({ id: 'VenueOverlayList' });

const venueParams = z.strictObject({ venueId: Id });
const overlayParams = z.strictObject({ venueId: Id, ruleSetId: Id });

const OVERLAY_BODY = {
  parameters: { padThicknessMinimum: { value: 6, unit: 'mm' } },
  effects: {},
  rules: [],
};

const OVERLAY_EXAMPLE: VenueOverlayView = {
  venueId: '019ab8f0-0000-7000-8000-0000000000d1',
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000c1',
  ...OVERLAY_BODY,
  checkedAgainst: 3,
  updatedAt: '2026-05-02T09:20:00.000Z',
};

const ETAG = { ETag: 'Version of the overlay' };
const PATH = '/venues/:venueId/overlays/:ruleSetId';
const { checkedAgainst: _, ...STORED_EXAMPLE } = OVERLAY_EXAMPLE;

/** What a venue changes in a rule set for all its events. Organizers only. */
export async function venueOverlayRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const common = { tag: 'Rule sets', access: ['organizer'] } as const;
  addRoute(app, {
    ...common,
    method: 'GET',
    path: '/venues/:venueId/overlays',
    operationId: 'listVenueOverlays',
    summary: 'List what a venue changes in rule sets',
    description: 'One per rule set at most.',
    params: venueParams,
    success: {
      200: { description: 'One per rule set', schema: VenueOverlayList, example: { overlays: [STORED_EXAMPLE] } },
    },
    problems: ['not-found'],
    handle: async ({ params }) => {
      if (!(await venueExists(deps.db.prisma, params.venueId))) throw notFound('venue');
      const overlays = await listOverlays(deps.db.prisma, params.venueId);
      return { status: 200, body: { overlays: overlays.map(viewOverlay) } };
    },
  });
  addRoute(app, {
    ...common,
    method: 'GET',
    path: PATH,
    operationId: 'getVenueOverlay',
    summary: 'Read what a venue changes in a rule set',
    description: 'Effects, rules and limits that differ here. The `ETag` is needed to replace or delete it.',
    params: overlayParams,
    success: {
      200: {
        description: 'The overlay',
        schema: VenueOverlayView.omit({ checkedAgainst: true }),
        headers: ETAG,
        example: STORED_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const overlay = await findOverlay(deps.db.prisma, params.venueId, params.ruleSetId);
      if (overlay === undefined) throw notFound('overlay');
      return { status: 200, body: viewOverlay(overlay), headers: { etag: etagOf(overlay.rev) } };
    },
  });
  addRoute(app, {
    ...common,
    method: 'PUT',
    path: PATH,
    operationId: 'replaceVenueOverlay',
    summary: 'Write what a venue changes in a rule set',
    description:
      'Checked against the newest published version. Run groups that exist keep what they took; they take this with ' +
      '`takeVenueRules`. `If-Match` is the ETag of the last read, `"0"` for the first.',
    params: overlayParams,
    headers: IfMatch,
    body: VenueOverlayInput,
    bodyExample: OVERLAY_BODY,
    success: { 200: { description: 'Written', schema: VenueOverlayView, headers: ETAG, example: OVERLAY_EXAMPLE } },
    problems: ['not-found', 'not-acceptable', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, headers, body, actor, request }) => {
      const asked = { ...params, ifMatch: headers['if-match'], overlay: body, requestId: request.id };
      const { view, rev } = await replaceOverlay(deps, actor, asked);
      return { status: 200, body: view, headers: { etag: etagOf(rev) } };
    },
  });
  addRoute(app, {
    ...common,
    method: 'DELETE',
    path: PATH,
    operationId: 'deleteVenueOverlay',
    summary: 'Take a venue’s changes to a rule set away',
    description: 'Run groups keep what they took.',
    params: overlayParams,
    headers: IfMatch,
    success: { 204: { description: 'Taken away' } },
    problems: ['not-found', 'precondition-required', 'precondition-failed'],
    handle: async ({ params, headers, actor, request }) => {
      await removeOverlay(deps, actor, { ...params, ifMatch: headers['if-match'], requestId: request.id });
      return { status: 204 };
    },
  });
}

interface Ids {
  venueId: string;
  ruleSetId: string;
}

interface Asked {
  ifMatch: string | undefined;
  requestId: string;
}

/** An overlay as callers read it. */
function viewOverlay({ rev: _rev, overlay, updatedAt, ...ids }: StoredOverlay) {
  const { parameters, effects, rules } = overlay;
  return { ...ids, parameters, effects, rules: [...rules], updatedAt: updatedAt.toISOString() };
}

/**
 * Writes what a venue changes in a rule set, checked against its newest version. Run groups that exist keep what they
 * took; they take this with `takeVenueRules`.
 *
 * @param ifMatch the version the caller read; `"0"` for the first
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable` naming every place,
 *   `too-heavy`, `too-much-at-once`, `threads-busy`
 */
async function replaceOverlay(
  deps: Deps,
  actor: Actor,
  { ifMatch, overlay, requestId, ...ids }: Ids & Asked & { overlay: Overlay },
): Promise<{ view: VenueOverlayView; rev: number }> {
  const db = deps.db.prisma;
  if (!(await venueExists(db, ids.venueId))) throw notFound('venue');
  const newest = await findNewestVersion(db, ids.ruleSetId);
  if (newest === undefined) throw notFound('published rule set');
  const current = await findOverlay(db, ids.venueId, ids.ruleSetId);
  const rev = current?.rev ?? 0;
  assertIfMatch(ifMatch, etagOf(rev));
  const layers = [{ from: 'venue' as const, overlay }];
  const input = { ruleSetId: ids.ruleSetId, ruleSetVersion: newest.version, document: newest.document, layers };
  const asked = { caller: actor.tokenId, urgency: URGENCY.preview };
  const resolved = await inThread(deps.threads, resolveRulesTask, input, asked);
  if (!resolved.ok) {
    const errors = resolved.faults.map(({ pointer, code, detail }) => ({ pointer, code, detail, in: 'body' as const }));
    throw new ProblemError('not-acceptable', nameFaults(errors), { errors });
  }
  const saved = await inTransaction(db, async (tx) => {
    const at = await decisionTime(tx, deps.clock);
    const written = await saveOverlay(tx, ids, rev, overlay, at);
    if (written !== undefined)
      await recordAtEvents(tx, ids, { actor, at, from: current?.overlay, to: overlay, requestId });
    return written;
  });
  if (saved !== undefined) return { view: { ...viewOverlay(saved), checkedAgainst: newest.version }, rev: saved.rev };
  throw stale(etagOf((await findOverlay(db, ids.venueId, ids.ruleSetId))?.rev ?? 0));
}

/**
 * Takes the overlay away. Run groups keep what they took.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`
 */
async function removeOverlay(deps: Deps, actor: Actor, asked: Ids & Asked): Promise<void> {
  const { ifMatch, requestId, ...ids } = asked;
  const db = deps.db.prisma;
  const current = await findOverlay(db, ids.venueId, ids.ruleSetId);
  if (current === undefined) throw notFound('overlay');
  assertIfMatch(ifMatch, etagOf(current.rev));
  const removed = await inTransaction(db, async (tx) => {
    const at = await decisionTime(tx, deps.clock);
    const gone = await deleteOverlay(tx, ids, current.rev);
    if (gone) await recordAtEvents(tx, ids, { actor, at, from: current.overlay, to: undefined, requestId });
    return gone;
  });
  if (removed) return;
  throw stale(etagOf((await findOverlay(db, ids.venueId, ids.ruleSetId))?.rev ?? 0));
}

interface OverlayChange {
  actor: Actor;
  at: Date;
  from: Overlay | undefined;
  to: Overlay | undefined;
  requestId: string;
}

/** The events to come at the venue that use the rule set: what their groups take from now on is another. */
async function recordAtEvents(tx: Tx, ids: Ids, { actor, at, from, to, requestId }: OverlayChange): Promise<void> {
  const brief = (overlay: Overlay | undefined) =>
    overlay === undefined ? null : { parameters: overlay.parameters, hash: canonicalHash(overlay) };
  const data = { ...ids, from: brief(from), to: brief(to) };
  const action = to === undefined ? 'venue-overlay.removed' : 'venue-overlay.changed';
  await recordEventsChange(tx, await listConcerned(tx, ids, at), { actor, at, action, data, requestId });
}
