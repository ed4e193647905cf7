import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { IfMatch } from '../../http/frame/common-schemas.ts';
import { etagOf } from '../../http/frame/etag.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { removeOverlay, replaceOverlay, viewOverlay } from './overlay-replace.ts';
import {
  OVERLAY_BODY,
  OVERLAY_EXAMPLE,
  overlayParams,
  VenueOverlayInput,
  VenueOverlayList,
  VenueOverlayView,
  venueParams,
} from './overlay-schemas.ts';
import { findOverlay, listOverlays, venueExists } from './overlay-store.ts';

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
