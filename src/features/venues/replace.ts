import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound, ProblemError } from '../../http/problem.ts';
import { canonicalJson } from '../../platform/canonical-json.ts';
import { inTransaction, type Tx } from '../../platform/db.ts';
import { decisionTime } from '../../platform/decision-time.ts';
import { entrantTokenEnd, moveEntrantTokenEnds } from '../../records/entrant-tokens.ts';
import { daysMoved, orderDerivation, previewDays } from '../../records/event-days.ts';
import { type LockedEvent, lockEvent, recordEventChange } from '../../records/event-history.ts';
import { type EventAtVenue, eventsAtVenue, zoneTag } from './preview.ts';
import type { VenueInput, VenueReplacement, VenueView } from './schemas.ts';
import { findVenue, listEventIds, lockVenue, type StoredVenue, updateVenue } from './store.ts';

interface ReplaceRequest {
  venueId: string;
  ifMatch: string | undefined;
  input: VenueReplacement;
  requestId: string;
}

/**
 * Replaces a venue, starting from the version the caller read, and writes it into the history of its events: of those to
 * come, and of those from before whose days it moves. Another zone is taken, once cars are signed off for events that are
 * not over, only from a caller who has seen what it does and says why; every acceptance there is then derived anew.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`, `preview-needed`
 */
export async function replaceVenue(deps: Deps, actor: Actor, request: ReplaceRequest): Promise<StoredVenue> {
  const { venueId, ifMatch, requestId } = request;
  const { reason, preview, ...input } = request.input;
  return inTransaction(deps.db.prisma, async (tx) => {
    const current = (await lockVenue(tx, venueId)) ? await findVenue(tx, venueId) : undefined;
    if (current === undefined) throw notFound('venue');
    assertIfMatch(ifMatch, etagOf(current.rev));
    const locked = await lockEvents(tx, venueId);
    const at = await decisionTime(tx, deps.clock);
    const events = await eventsAtVenue(tx, {
      venueId,
      timeZone: current.view.timeZone,
      wanted: input.timeZone,
      now: at,
    });
    await assertSeen(tx, events, { venueId, seen: preview, tag: zoneTag(venueId, events), reason });
    const updated = await updateVenue(tx, venueId, current.rev, input);
    if (updated === undefined) throw stale(etagOf(current.rev));
    const changed = changedFields(current.view, input);
    if (Object.keys(changed.to).length + Object.keys(changed.from).length === 0) return updated;
    const said = reason === undefined ? {} : { reason };
    for (const event of events.filter(({ over, moved }) => moved || !over)) {
      const { eventId, moved, over, from, to } = event;
      const head = locked.get(eventId);
      // Made after the lock: nobody is signed off for it yet.
      if (head === undefined) continue;
      await moveEntrantTokenEnds(tx, eventId, { from: entrantTokenEnd(from), to: entrantTokenEnd(to) });
      const data = { venueId, ...changed, ...(moved ? { days: daysMoved(from, to) } : {}), ...said };
      await recordEventChange(tx, head, { actor, at, action: 'venue.changed', data, requestId });
      if (moved && !over) await orderDerivation(tx, { eventId, seq: head.historySeq, requestId });
    }
    return updated;
  });
}

/** In order of their ids, like everybody who locks several. */
async function lockEvents(tx: Tx, venueId: string): Promise<Map<string, LockedEvent>> {
  const locked = new Map<string, LockedEvent>();
  for (const eventId of await listEventIds(tx, venueId)) {
    const event = await lockEvent(tx, eventId);
    if (event !== undefined) locked.set(eventId, event);
  }
  return locked;
}

async function assertSeen(
  tx: Tx,
  events: readonly EventAtVenue[],
  said: { venueId: string; seen: string | undefined; tag: string; reason: string | undefined },
): Promise<void> {
  const toMove = events.filter(({ moved, over }) => moved && !over);
  const cars = await Promise.all(toMove.map(async (event) => (await previewDays(tx, event)).signedOff));
  const signedOff = cars.reduce((sum, count) => sum + count, 0);
  if (signedOff === 0) return;
  if (said.seen !== said.tag) {
    const path = `/v1/venues/${said.venueId}/preview`;
    const detail = `${signedOff} cars are signed off for the days as they are. POST the change to ${path} first, then send its \`preview\`.`;
    throw new ProblemError('preview-needed', detail, { preview: path });
  }
  if (said.reason !== undefined) return;
  const detail = 'Say why: cars are signed off for the days as they are.';
  throw new ProblemError('not-acceptable', `/reason: ${detail}`, {
    errors: [{ pointer: '/reason', code: 'reason-needed', detail, in: 'body' }],
  });
}

/** The fields that are another than before, as they were and as they are. */
function changedFields({ venueId: _id, ...was }: VenueView, is: VenueInput): { from: object; to: object } {
  const before: Readonly<Record<string, unknown>> = was;
  const after: Readonly<Record<string, unknown>> = is;
  const same = (key: string) => canonicalJson(before[key] ?? null) === canonicalJson(after[key] ?? null);
  const keys = [...new Set([...Object.keys(was), ...Object.keys(is)])].filter((key) => !same(key));
  const pick = (one: Readonly<Record<string, unknown>>) =>
    Object.fromEntries(keys.filter((key) => one[key] !== undefined).map((key) => [key, one[key]]));
  return { from: pick(before), to: pick(after) };
}
