import type { JSONWebKeySet } from 'jose';

export type Renewed = 'same' | 'renewed' | 'foreign';

/** What a fetched key set is to the pinned one: the same, one that continues it, or somebody else's. */
export function compareKeys(pinned: JSONWebKeySet, fetched: JSONWebKeySet): Renewed {
  const marks = new Set(pinned.keys.map(markOf));
  const known = fetched.keys.filter((key) => marks.has(markOf(key)));
  if (known.length === 0) return 'foreign';
  return known.length === fetched.keys.length && known.length === pinned.keys.length ? 'same' : 'renewed';
}

// The key itself and not its name: a name can be given to any key.
const markOf = ({ kty, crv, x, y }: JSONWebKeySet['keys'][number]): string => JSON.stringify([kty, crv, x, y]);
