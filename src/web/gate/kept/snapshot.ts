import { compactVerify, createLocalJWKSet, decodeProtectedHeader, errors, type JSONWebKeySet } from 'jose';
import { clockFault, type GateSnapshot, SNAPSHOT_TYPE } from '../../../domain/clearance/gate-snapshot.ts';

/** Why a list is refused. After the last two it is authentic and for this event, but of no use now. */
export type SnapshotFault =
  | 'not-a-list'
  | 'unknown-key'
  | 'bad-signature'
  | 'other-event'
  | 'older-list'
  | 'cannot-use-now';

export type VerifiedSnapshot =
  | { ok: true; kid: string; snapshot: GateSnapshot }
  /** `snapshot` only where it is authentic and for this event: to show what it was, never to admit from */
  | { ok: false; fault: SnapshotFault; detail: string; snapshot?: GateSnapshot };

const ALGORITHM = 'ES256';

/** What a device is for and holds; both `newerThan` belong to the list it holds. */
interface Expected {
  eventId: string;
  newerThanSeq?: number | undefined;
  /** of two lists that end at the same row, the one made earlier is the older one */
  newerThanAsOf?: string | undefined;
  now: Date;
}

/**
 * Verifies a signed list against pinned keys. It runs in the browser and in Node.js: nothing here but `jose`, which uses
 * the platform's own cryptography. Keys are never taken from the list, and only one algorithm counts (RFC 8725,
 * sections 3.1 and 3.11).
 *
 * @param jwks the keys that were pinned when the device was enrolled
 * @param expected the event the device is for; the `seq` of the list it holds (a list that ends earlier is refused, so
 *   that nobody can bring an old one back) and when that was made; the device's clock
 * @returns never throws: whatever is wrong is a fault, and a device that is refused a list keeps the one it has
 */
export async function verifySnapshot(jws: string, jwks: JSONWebKeySet, expected: Expected): Promise<VerifiedSnapshot> {
  const kid = kidOf(jws);
  if (kid === undefined) return refused('not-a-list', 'This is no signed gate list.');
  let payload: Uint8Array;
  try {
    ({ payload } = await compactVerify(jws, createLocalJWKSet(jwks), { algorithms: [ALGORITHM] }));
  } catch (error) {
    return signatureFault(error, kid);
  }
  const snapshot = parseSnapshot(readJson(payload));
  if (snapshot === undefined) return refused('not-a-list', 'This version of the app does not understand the list.');
  return checkUse(snapshot, kid, expected);
}

function kidOf(jws: string): string | undefined {
  try {
    const { alg, typ, kid } = decodeProtectedHeader(jws);
    return alg === ALGORITHM && typ === SNAPSHOT_TYPE && typeof kid === 'string' ? kid : undefined;
  } catch {
    // A text that has no readable header is not signed by anybody.
    return undefined;
  }
}

function signatureFault(error: unknown, kid: string): VerifiedSnapshot {
  if (error instanceof errors.JWKSNoMatchingKey) {
    return refused('unknown-key', `The list is signed with a key that this device does not know (${kid}).`);
  }
  if (error instanceof errors.JWSSignatureVerificationFailed) {
    return refused('bad-signature', 'The list was changed after it was signed.');
  }
  return refused('not-a-list', 'The signed list cannot be read.');
}

function readJson(payload: Uint8Array): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(payload));
  } catch {
    // Signed, and yet no JSON: the caller finds that it is no list.
    return undefined;
  }
}

function checkUse(snapshot: GateSnapshot, kid: string, expected: Expected): VerifiedSnapshot {
  const { eventId, newerThanSeq = 0, newerThanAsOf = snapshot.asOf, now } = expected;
  if (snapshot.eventId !== eventId) return refused('other-event', `The list is of another event: ${snapshot.name}.`);
  if (snapshot.seq < newerThanSeq) {
    const detail = `The list ends at row ${snapshot.seq}; this device already knows row ${newerThanSeq}.`;
    return { ...refused('older-list', detail), snapshot };
  }
  if (snapshot.seq === newerThanSeq && Date.parse(snapshot.asOf) < Date.parse(newerThanAsOf)) {
    const detail = `The list was made at ${snapshot.asOf}; this device holds the one of ${newerThanAsOf}.`;
    return { ...refused('older-list', detail), snapshot };
  }
  const fault = clockFault(snapshot, now);
  if (fault !== undefined) return { ...refused('cannot-use-now', fault), snapshot };
  return { ok: true, kid, snapshot };
}

function refused(fault: SnapshotFault, detail: string): { ok: false; fault: SnapshotFault; detail: string } {
  return { ok: false, fault, detail };
}

// By hand, and not with the library that the server uses: that is a third of what the gate's telephone would load.
type Check = (value: unknown) => boolean;

const text: Check = (value) => typeof value === 'string';
const flag: Check = (value) => typeof value === 'boolean';
const yes: Check = (value) => value === true;
const no: Check = (value) => value === false;
const amount: Check = (value) => Number.isFinite(value);
const place: Check = (value) => Number.isSafeInteger(value) && (value as number) >= 0;
const instant: Check = (value) => typeof value === 'string' && !Number.isNaN(Date.parse(value));
const one =
  (...words: readonly string[]): Check =>
  (value) =>
    words.some((word) => word === value);
const list =
  (of: Check): Check =>
  (value) =>
    Array.isArray(value) && value.every(of);
const optional =
  (of: Check): Check =>
  (value) =>
    value === undefined || of(value);
const nullable =
  (of: Check): Check =>
  (value) =>
    value === null || of(value);

/** These members and no other: an app that does not know a member must not guess that it does not matter. */
const record =
  (members: Readonly<Record<string, Check>>): Check =>
  (value) => {
    if (typeof value !== 'object' || value === null || Array.isArray(value)) return false;
    const given = new Map<string, unknown>(Object.entries(value));
    const known = [...given.keys()].every((name) => Object.hasOwn(members, name));
    return known && Object.entries(members).every(([name, check]) => check(given.get(name)));
  };

const wetTyres: Check = (value) =>
  [
    record({ fit: yes }),
    record({ fit: no, why: one('slicks') }),
    record({ fit: no, why: one('grooves'), lowestMm: amount, limitMm: amount }),
  ].some((check) => check(value));

const gateFacts = record({
  withdrawn: optional(flag),
  declared: optional(
    record({
      bars: list(record({ title: text, concededUntil: optional(instant), condition: optional(text) })),
      wet: optional(wetTyres),
    }),
  ),
  reinspect: optional(text),
  signOff: optional(
    record({
      decision: one('accept', 'accept-with-conditions', 'refuse'),
      note: optional(text),
      validFrom: optional(instant),
      validUntil: optional(instant),
    }),
  ),
  conditions: optional(list(record({ text, dueAt: optional(instant) }))),
  holds: optional(list(text)),
  car: optional(
    record({
      holds: optional(list(record({ reason: text, in: text }))),
      refusals: optional(list(record({ note: optional(text), in: text }))),
      recalls: optional(list(record({ reason: text, in: text }))),
      conditions: optional(list(record({ text, dueAt: optional(instant), in: text }))),
      voidStickers: optional(list(text)),
    }),
  ),
});

const rescue = record({
  drive: optional(one('combustion', 'hybrid', 'battery')),
  gas: optional(one('none', 'lpg', 'cng', 'hydrogen')),
  volts: optional(amount),
  disconnectAt: optional(text),
});

const isSnapshot = record({
  iss: text,
  eventId: text,
  name: text,
  asOf: instant,
  staleAfter: instant,
  seq: place,
  head: text,
  newestHold: nullable(record({ number: place, carNumber: text, reason: text, at: instant })),
  days: record({ from: instant, until: instant, cancelled: optional(record({ at: instant, reason: text })) }),
  runGroups: list(record({ runGroupId: text, name: text, wet: optional(yes) })),
  entries: list(
    record({
      carNumber: text,
      group: place,
      vehicle: optional(text),
      colour: optional(text),
      rescue: optional(rescue),
      facts: gateFacts,
    }),
  ),
});

/** The list in a payload; undefined when it is none that this version understands. */
export function parseSnapshot(value: unknown): GateSnapshot | undefined {
  if (!isSnapshot(value)) return undefined;
  // Every member was looked at just now.
  const snapshot = value as GateSnapshot;
  return snapshot.entries.every(({ group }) => group < snapshot.runGroups.length) ? snapshot : undefined;
}
