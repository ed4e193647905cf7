import type { JSONWebKeySet } from 'jose';
import { call } from '../../api/call.ts';
import { getKeySet } from '../../api/operations.ts';
import { readKept, writeKept } from './gate-store.ts';

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
