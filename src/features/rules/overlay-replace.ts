import type { Actor } from '../../domain/actor.ts';
import type { Overlay } from '../../domain/rules/overlay/overlay.ts';
import type { Deps } from '../../deps.ts';
import { inThread, URGENCY } from '../../http/body/in-thread.ts';
import { resolveRulesTask } from '../../records/judging/rules.task.ts';
import { assertIfMatch, etagOf, stale } from '../../http/frame/etag.ts';
import { nameFaults, notFound, ProblemError } from '../../http/frame/problem.ts';
import { canonicalHash } from '../../platform/canonical-json.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { decisionTime } from '../../platform/clock.ts';
import { recordEventsChange } from '../../records/history/event-history.ts';
import type { VenueOverlayView } from './overlay-schemas.ts';
import {
  deleteOverlay,
  findNewestVersion,
  findOverlay,
  listConcerned,
  saveOverlay,
  type StoredOverlay,
  venueExists,
} from './overlay-store.ts';

interface Ids {
  venueId: string;
  ruleSetId: string;
}

interface Asked {
  ifMatch: string | undefined;
  requestId: string;
}

/** An overlay as callers read it. */
export function viewOverlay({ rev: _rev, overlay, updatedAt, ...ids }: StoredOverlay) {
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
export async function replaceOverlay(
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
export async function removeOverlay(deps: Deps, actor: Actor, asked: Ids & Asked): Promise<void> {
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
