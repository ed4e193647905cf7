import { type DBSchema, type IDBPDatabase, openDB } from 'idb';
import type { JSONWebKeySet } from 'jose';
import type { UploadChecksInput } from '../api/operations.ts';
import type { Refusal } from './refusals.ts';
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

let opened: Promise<IDBPDatabase<GateDb>> | undefined;

function open(): Promise<IDBPDatabase<GateDb>> {
  opened ??= openDB<GateDb>('gridworthy-gate', 1, {
    upgrade(db) {
      db.createObjectStore('kept');
      db.createObjectStore('log', { keyPath: 'clientId' });
    },
    // The browser closed it, for instance because storage was cleared: open it anew next time.
    terminated() {
      opened = undefined;
    },
  }).catch((error: unknown) => {
    opened = undefined;
    throw error;
  });
  return opened;
}

/** What is kept under a name; undefined when there is nothing, or storage cannot be read. */
export async function readKept<K extends keyof Kept>(key: K): Promise<Kept[K] | undefined> {
  try {
    return (await (await open()).get('kept', key)) as Kept[K] | undefined;
  } catch {
    // Without storage the page starts as on its first day: online it works, offline it cannot tell.
    return undefined;
  }
}

/** @returns whether it is kept */
export async function writeKept<K extends keyof Kept>(key: K, value: Kept[K]): Promise<boolean> {
  try {
    await (await open()).put('kept', value, key);
    return true;
  } catch {
    // Storage is full or closed: what is in memory goes on, and a restart knows less, never more.
    return false;
  }
}

export async function removeKept(key: keyof Kept): Promise<void> {
  await (await open()).delete('kept', key).catch(() => undefined);
}

/** @throws when it cannot be written, so that no answer is given that nobody would ever hear of */
export async function addToLog(entry: LoggedCheck): Promise<void> {
  await (await open()).put('log', entry);
}

/** The oldest first: their ids begin with the time. */
export async function readLog(most: number): Promise<LoggedCheck[]> {
  return (await open()).getAll('log', undefined, most);
}

export async function countLog(): Promise<number> {
  return (await open()).count('log');
}

export async function removeFromLog(clientIds: readonly string[]): Promise<void> {
  const tx = (await open()).transaction('log', 'readwrite');
  await Promise.all([...clientIds.map((id) => tx.store.delete(id)), tx.done]);
}
