import type { DBSchema } from 'idb';
import type { JSONWebKeySet } from 'jose';
import { getKeySet, type UploadChecksInput } from '../../api/operations.ts';
import { defineStore } from '../../shared/device-store.ts';
import { call } from '../../api/call.ts';
import type { Refusal } from './check-log.ts';
import type { KeptClock } from './trusted-clock.ts';

export type UploadedCheck = UploadChecksInput['checks'][number];

/** A check that this device made by itself and the server has not confirmed. */
export interface LoggedCheck {
  clientId: string;
  eventId: string;
  check: UploadedCheck;
}

/** The event that this device is for. */
export interface KeptEvent {
  eventId: string;
  name: string;
  timeZone: string;
  startsOn: string;
  endsOn: string;
}

/** The signed list, exactly as it came. */
export interface KeptList {
  eventId: string;
  jws: string;
  etag: string | undefined;
  /** when the server last said that it is right, by the server's clock */
  confirmedAt: number;
}

interface Kept {
  keys: JSONWebKeySet;
  event: KeptEvent;
  list: KeptList;
  clock: KeptClock;
  refusals: readonly Refusal[];
}

interface GateDb extends DBSchema {
  kept: { key: keyof Kept; value: Kept[keyof Kept] };
  log: { key: string; value: LoggedCheck };
}

const store = defineStore<GateDb>('gridworthy-gate', (db) => {
  db.createObjectStore('kept');
  db.createObjectStore('log', { keyPath: 'clientId' });
});

/** What is kept under a name; undefined when there is nothing, or storage cannot be read. */
export async function readKept<K extends keyof Kept>(key: K): Promise<Kept[K] | undefined> {
  // Without storage the page starts as on its first day: online it works, offline it cannot tell.
  return store.read(undefined, async (db) => (await db.get('kept', key)) as Kept[K] | undefined);
}

/** What is in memory goes on without it, and a restart knows less, never more. @returns whether it is kept */
export async function writeKept<K extends keyof Kept>(key: K, value: Kept[K]): Promise<boolean> {
  return store.write((db) => db.put('kept', value, key));
}

export async function removeKept(key: keyof Kept): Promise<void> {
  await store.write((db) => db.delete('kept', key));
}

/** @throws when it cannot be written, so that no answer is given that nobody would ever hear of */
export async function addToLog(entry: LoggedCheck): Promise<void> {
  await store.must((db) => db.put('log', entry));
}

/** The oldest first: their ids begin with the time. */
export async function readLog(most: number): Promise<LoggedCheck[]> {
  return store.must((db) => db.getAll('log', undefined, most));
}

export async function countLog(): Promise<number> {
  return store.must((db) => db.count('log'));
}

export async function removeFromLog(clientIds: readonly string[]): Promise<void> {
  await store.must(async (db) => {
    const tx = db.transaction('log', 'readwrite');
    await Promise.all([...clientIds.map((id) => tx.store.delete(id)), tx.done]);
  });
}

/** Pins the server's keys if this device has none yet: when it is enrolled, or else at its first start. */
export async function pinKeys(): Promise<JSONWebKeySet | undefined> {
  const pinned = await readKept('keys');
  if (pinned !== undefined) return pinned;
  const fetched = await fetchKeys();
  await writeKept('keys', fetched);
  return fetched;
}

/** Trusts this server from now on, whatever was pinned: only a person does that, by enrolling the device. */
export async function pinKeysAnew(): Promise<void> {
  await writeKept('keys', await fetchKeys());
}

/**
 * Takes new keys after a rotation. The server publishes the key before the new one for days, so a set that has none of
 * the pinned keys is not this server's and is refused; keys that it no longer publishes are no longer trusted.
 */
export async function renewKeys(): Promise<{ keys: JSONWebKeySet; outcome: Renewed }> {
  const pinned = (await readKept('keys')) ?? { keys: [] };
  const fetched = await fetchKeys();
  const outcome = compareKeys(pinned, fetched);
  if (outcome === 'renewed') await writeKept('keys', fetched);
  return { keys: outcome === 'renewed' ? fetched : pinned, outcome };
}

async function fetchKeys(): Promise<JSONWebKeySet> {
  const { body } = await call(getKeySet, {});
  return { keys: body.keys.map((key) => ({ ...key })) };
}

type Renewed = 'same' | 'renewed' | 'foreign';

/** What a fetched key set is to the pinned one: the same, one that continues it, or somebody else's. */
export function compareKeys(pinned: JSONWebKeySet, fetched: JSONWebKeySet): Renewed {
  const marks = new Set(pinned.keys.map(markOf));
  const known = fetched.keys.filter((key) => marks.has(markOf(key)));
  if (known.length === 0) return 'foreign';
  return known.length === fetched.keys.length && known.length === pinned.keys.length ? 'same' : 'renewed';
}

// The key itself and not its name: a name can be given to any key.
const markOf = ({ kty, crv, x, y }: JSONWebKeySet['keys'][number]): string => JSON.stringify([kty, crv, x, y]);
