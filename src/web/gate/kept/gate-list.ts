import type { JSONWebKeySet } from 'jose';
import { call, type Reply } from '../../api/call.ts';
import { getGateSnapshot } from '../../api/operations.ts';
import type { GateSnapshot } from '../../../domain/clearance/gate-snapshot.ts';
import { type KeptList, pinKeys, readKept, removeKept, renewKeys, writeKept } from './gate-store.ts';
import type { Span } from './trusted-clock.ts';
import { type SnapshotFault, type VerifiedSnapshot, verifySnapshot } from './snapshot.ts';

/** A list that was verified on this device. It may be stale: whoever answers from it looks at the clock. */
export interface GateList {
  snapshot: GateSnapshot;
  etag: string | undefined;
  /** when the server last said that it is right, by its own clock (milliseconds) */
  confirmedAt: number;
}

export type ListFault = SnapshotFault | 'foreign-keys' | 'not-secure';

/** The list that this device kept, verified again; undefined when there is none for this event that can be trusted. */
export async function readGateList(eventId: string, at: Span): Promise<GateList | undefined> {
  const [kept, keys] = await Promise.all([readKept('list'), readKept('keys')]);
  if (kept === undefined || keys === undefined) return undefined;
  const { snapshot } = await verify(kept.jws, keys, { eventId, now: at.to });
  // Of another event: it will never be of use again.
  if (snapshot === undefined && kept.eventId !== eventId) await removeKept('list');
  return snapshot && { snapshot, etag: kept.etag, confirmedAt: kept.confirmedAt };
}

interface Verified {
  snapshot?: GateSnapshot | undefined;
  fault?: SnapshotFault | undefined;
}

async function verify(...given: Parameters<typeof verifySnapshot>): Promise<Verified> {
  const result: VerifiedSnapshot = await verifySnapshot(...given);
  if (result.ok) return { snapshot: result.snapshot };
  return { fault: result.fault, snapshot: result.fault === 'cannot-use-now' ? result.snapshot : undefined };
}

export interface Fetched {
  list: GateList | undefined;
  fault: ListFault | undefined;
}

/**
 * Asks the server for the list and takes it if it is in order; otherwise the held one stays, and the fault says why.
 *
 * @param contact told of the server's clock as soon as it answered
 * @throws ApiProblem, Unreachable
 */
export async function fetchList(
  { eventId, token, held }: { eventId: string; token: string; held: GateList | undefined },
  clock: { contact(date: Date): void; now(): Span },
): Promise<Fetched> {
  const known = held?.etag === undefined ? {} : { 'if-none-match': held.etag };
  const reply = await call(
    getGateSnapshot,
    { params: { eventId }, query: { with: 'rescue' }, headers: known },
    { token, timeoutMs: 8000 },
  );
  if (reply.date !== undefined) clock.contact(reply.date);
  const confirmedAt = clock.now().from.getTime();
  if (reply.status === 304) return confirmKnown(held, confirmedAt);
  const jws = await textOf(reply);
  const { snapshot, fault } = await judge(jws, eventId, held, clock);
  if (fault !== undefined || snapshot === undefined) return { list: held, fault: fault ?? 'not-a-list' };
  const list: GateList = { snapshot, etag: reply.etag, confirmedAt };
  await keep(eventId, list, jws);
  return { list, fault: undefined };
}

const textOf = async ({ body }: Reply<NonNullable<(typeof getGateSnapshot)['shape']>>): Promise<string> =>
  body instanceof Blob ? body.text() : '';

async function confirmKnown(held: GateList | undefined, confirmedAt: number): Promise<Fetched> {
  if (held === undefined) return { list: undefined, fault: 'not-a-list' };
  const list = { ...held, confirmedAt };
  const kept = await readKept('list');
  if (kept !== undefined) await writeKept('list', { ...kept, confirmedAt });
  return { list, fault: undefined };
}

async function keep(eventId: string, { etag, confirmedAt }: GateList, jws: string): Promise<void> {
  const kept: KeptList = { eventId, jws, etag, confirmedAt };
  await writeKept('list', kept);
}

/** A key that is not pinned may be the server's new one: its key set is looked at once, and the list once more. */
async function judge(
  jws: string,
  eventId: string,
  held: GateList | undefined,
  clock: { now(): Span },
): Promise<{ snapshot?: GateSnapshot | undefined; fault?: ListFault | undefined }> {
  // Browsers verify signatures only on pages that came by https, or from this device itself.
  if (!isSecureContext) return { fault: 'not-secure' };
  const keys: JSONWebKeySet = (await pinKeys()) ?? { keys: [] };
  const now = clock.now().to;
  const expected = { eventId, now, ...floorOf(held, now) };
  const first = await verify(jws, keys, expected);
  if (first.fault !== 'unknown-key') return first;
  const renewed = await renewKeys();
  if (renewed.outcome === 'foreign') return { fault: 'foreign-keys' };
  return verify(jws, renewed.keys, expected);
}

/**
 * What a new list must not be older than. A list whose time is over no longer counts: the server may have been put back
 * from a backup, and every list that was made before the held one ends before it too.
 */
function floorOf(held: GateList | undefined, now: Date): { newerThanSeq?: number; newerThanAsOf?: string } {
  if (held === undefined || now.getTime() >= Date.parse(held.snapshot.staleAfter)) return {};
  return { newerThanSeq: held.snapshot.seq, newerThanAsOf: held.snapshot.asOf };
}
