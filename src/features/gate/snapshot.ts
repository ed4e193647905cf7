import { createHash } from 'node:crypto';
import { startOfNextDay } from '../../domain/calendar.ts';
import { type GateSnapshot, SNAPSHOT_TYPE } from '../../domain/clearance/gate-snapshot.ts';
import type { Deps } from '../../deps.ts';
import { notFound } from '../../http/frame/problem.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { currentSigningKey, signCompact } from '../../records/history/signing-keys.ts';
import { readSnapshotEvent, type SnapshotEvent } from './snapshot-store.ts';

const HOUR_MS = 3_600_000;
/** Part of a list's life after which a device gets a new one although nothing changed, so that its life starts again. */
const RENEW_AFTER = 0.25;
const TAG = /"([0-9a-f]{32})\.([0-9a-z]{1,10})"/g;

export interface SignedSnapshot {
  etag: string;
  /** absent: the list that the device has is still right */
  jws?: string;
}

/**
 * The gate list of an event, signed. It can be used for the configured hours, and never past the event's last day.
 *
 * @param known `If-None-Match` of the device
 * @throws ProblemError `not-found` (event)
 */
export async function signSnapshot(deps: Deps, eventId: string, known: string | undefined): Promise<SignedSnapshot> {
  // Before the reading: what is in the list was true at `asOf` or later.
  const now = deps.clock.now();
  const event = await inTransaction(deps.db.prisma, (tx) => readSnapshotEvent(tx, eventId), {
    isolationLevel: 'RepeatableRead',
  });
  if (event === undefined) throw notFound('event');
  const key = await currentSigningKey(deps.db.prisma, now);
  const iss = deps.config.publicUrl ?? 'gridworthy';
  const lifeMs = deps.config.gateSnapshotHours * HOUR_MS;
  const hash = sha256(JSON.stringify([key.kid, iss, event]));
  const held = heldTag(known, { hash, now, renewMs: lifeMs * RENEW_AFTER });
  if (held !== undefined) return { etag: held };
  const snapshot: GateSnapshot = { iss, ...event.content, ...lifeOf(event, now, lifeMs) };
  return { etag: tagOf(hash, now), jws: await signCompact(key, JSON.stringify(snapshot), SNAPSHOT_TYPE) };
}

function lifeOf(event: SnapshotEvent, now: Date, lifeMs: number): { asOf: string; staleAfter: string } {
  const end = startOfNextDay(event.endsOn, event.timeZone).getTime();
  const staleAfter = new Date(Math.min(now.getTime() + lifeMs, end));
  return { asOf: now.toISOString(), staleAfter: staleAfter.toISOString() };
}

// Weak: two signatures over the same list differ. The second part is when it was made.
const tagOf = (hash: string, at: Date): string => `W/"${hash}.${at.getTime().toString(36)}"`;

/** The tag among those the device sent that has this content and is not due for renewal. */
function heldTag(
  header: string | undefined,
  { hash, now, renewMs }: { hash: string; now: Date; renewMs: number },
): string | undefined {
  for (const [, contentHash, madeAt = ''] of (header ?? '').matchAll(TAG)) {
    const made = new Date(Number.parseInt(madeAt, 36));
    const ageMs = now.getTime() - made.getTime();
    if (contentHash === hash && ageMs >= 0 && ageMs < renewMs) return tagOf(hash, made);
  }
  return undefined;
}

function sha256(text: string): string {
  return createHash('sha256').update(text).digest('hex').slice(0, 32);
}
