import type { Actor } from '../../domain/actor.ts';
import type { Deps } from '../../deps.ts';
import { assertIfMatch, etagOf, stale } from '../../http/etag.ts';
import { notFound } from '../../http/problem.ts';
import { inTransaction } from '../../platform/db.ts';
import { recordEventsChange } from '../../records/event-history.ts';
import { cancelPending, lockWebhook } from './delivery-store.ts';
import { assertMayGoTo } from './policy.ts';
import type { WebhookChanges, WebhookView } from './schemas.ts';
import { findWebhook, type StoredWebhook, updateWebhook } from './store.ts';

const BY_HAND = 'An organizer turned it off.';

/**
 * Changes the fields that are given. Turned off, what waits is cancelled; turned on again, it starts anew, and what
 * happened meanwhile is not told.
 *
 * @throws ProblemError `not-found`, `precondition-required`, `precondition-failed`, `not-acceptable`
 */
export async function changeWebhook(
  deps: Deps,
  actor: Actor,
  request: { webhookId: string; ifMatch: string | undefined; changes: WebhookChanges; requestId: string },
): Promise<StoredWebhook> {
  const { webhookId, ifMatch, requestId } = request;
  const { enabled, ...fields } = request.changes;
  return inTransaction(deps.db.prisma, async (tx) => {
    const locked = await lockWebhook(tx, webhookId);
    const current = locked && (await findWebhook(tx, webhookId));
    if (current === undefined) throw notFound('webhook');
    assertIfMatch(ifMatch, etagOf(current.rev));
    if (enabled === undefined && Object.keys(fields).length === 0) return current;
    if (fields.url !== undefined) assertMayGoTo(deps.config, fields.url);
    const now = deps.clock.now();
    const turns = enabled === current.view.enabled ? undefined : enabled;
    if (turns === false) await cancelPending(tx, webhookId, now);
    // Whoever changes the address or turns it on has done something about what was wrong.
    const fresh = turns === true || fields.url !== undefined ? { failures: 0, pausedUntil: null } : {};
    const updated = await updateWebhook(tx, webhookId, current.rev, { ...fields, ...fresh, ...turned(turns, now) });
    if (updated === undefined) throw stale(etagOf(current.rev));
    const data = { webhookId, ...changedFields(current.view, updated.view) };
    const what = { actor, at: now, action: 'webhook.changed', data, requestId };
    await recordEventsChange(tx, current.view.eventId === undefined ? [] : [current.view.eventId], what);
    return updated;
  });
}

/** As it was and as it is; that the address changed, and never the address: it may carry a secret of the receiver. */
function changedFields(was: WebhookView, is: WebhookView) {
  const brief = ({ types, enabled }: WebhookView) => ({ types, enabled });
  return { from: brief(was), to: brief(is), otherAddress: was.url !== is.url };
}

function turned(enabled: boolean | undefined, now: Date) {
  if (enabled === undefined) return {};
  return enabled
    ? { enabled, disabledReason: null, disabledAt: null }
    : { enabled, disabledReason: BY_HAND, disabledAt: now };
}
