import type { Json } from '../../src/features/service/document-routes.ts';

/** Names whose values are worth sending again: ids and what else paths and bodies refer to. */
const REFERENCE = /(Id|At|On)$|[hH]ash$|[vV]ersion$|^(carNumber|item|name|preview|next|position|seq|code|token)$/;
/** These belong to everybody; what is left belongs to the entry it was seen with. */
const SHARED = new Set([
  'eventId',
  'venueId',
  'runGroupId',
  'ruleSetId',
  'tokenId',
  'requestId',
  'trialId',
  'rejudgementId',
]);
const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;
const MOST = 400;
/** Of these the newest are used: older things are withdrawn, retired and revoked by now. */
const NEWEST = 40;

/** Values that were seen together, by name: an entry with its event and run group. */
export type Seen = Readonly<Record<string, string | number>>;

/** What the application has given out so far. */
export interface Pool {
  /** reads an answer; `path` are the parameters of the address that was asked */
  learn(body: unknown, path: Seen): void;
  learnEtag(path: string, etag: string): void;
  /** something that has all these names, preferably of late */
  focus(names: readonly string[], pick: number, entryId?: string): Seen;
  /** a value seen under this name, preferably the one in `focus` */
  choose(name: string, pick: number, focus: Seen): string | number | undefined;
  etagFor(path: string): string | undefined;
  /** the entry that an id of anything belongs to, when there is exactly one */
  ownerOf(name: string, id: string | number): string | undefined;
  /** never handed out: ids that the run itself needs */
  protect(id: string): void;
}

export function openPool(): Pool {
  const records = new Map<string, Seen[]>();
  const values = new Map<string, Set<string | number>>();
  const owners = new Map<string, Set<string>>();
  const etags = new Map<string, string>();
  const spared = new Set<string>();

  function note(record: Seen): void {
    const names = Object.keys(record).toSorted();
    if (names.length === 0 || names.some((name) => spared.has(String(record[name])))) return;
    const kept = records.get(names.join()) ?? [];
    kept.push(record);
    if (kept.length > MOST) kept.shift();
    records.set(names.join(), kept);
    for (const name of names) remember(name, record[name] as string | number, record['entryId']);
  }

  function remember(name: string, value: string | number, entryId: string | number | undefined): void {
    const seen = values.get(name) ?? new Set();
    // What comes again counts as new.
    seen.delete(value);
    seen.add(value);
    const [oldest] = seen;
    if (seen.size > MOST && oldest !== undefined) seen.delete(oldest);
    values.set(name, seen);
    if (entryId === undefined || SHARED.has(name) || !UUID.test(String(value))) return;
    owners.set(String(value), (owners.get(String(value)) ?? new Set()).add(String(entryId)));
  }

  function walk(node: unknown, inherited: Seen, parent: string): void {
    if (Array.isArray(node)) {
      for (const part of node.slice(0, 50)) walk(part, inherited, parent);
      return;
    }
    if (typeof node !== 'object' || node === null) return;
    const own = { ...inherited, ...referencesOf(node as Json, parent) };
    note(own);
    for (const [key, part] of Object.entries(node)) if (typeof part === 'object') walk(part, own, key);
  }

  return {
    learn: (body, path) => {
      note(path);
      walk(body, path, '');
    },
    learnEtag: (path, etag) => void etags.set(path, etag),
    focus: (names, pick, entryId) => {
      const fitting = [...records.values()]
        .filter(([one]) => one !== undefined && names.every((name) => name in one))
        .map((some) => (entryId === undefined ? some : some.filter((one) => one['entryId'] === entryId)))
        .filter((some) => some.length > 0);
      const some = fitting[pick % Math.max(1, fitting.length)] ?? [];
      return some[some.length - 1 - (Math.floor(pick / 7) % Math.min(NEWEST, some.length))] ?? {};
    },
    choose: (name, pick, focus) => {
      const own = focus[name];
      if (own !== undefined && pick % 5 !== 0) return own;
      const seen = [...(values.get(name) ?? [])];
      return seen[seen.length - 1 - (pick % Math.min(NEWEST, seen.length))];
    },
    etagFor: (path) => etags.get(path) ?? etags.get(path.replace(/\/[^/]+$/, '')),
    ownerOf: (name, id) => {
      if (SHARED.has(name)) return undefined;
      if (name === 'entryId') return String(id).toLowerCase();
      const [owner, ...more] = owners.get(String(id)) ?? [];
      return more.length === 0 ? owner : undefined;
    },
    protect: (id) => void spared.add(id),
  };
}

/** `{ conditions: [{ id }] }` is a `conditionId`. */
function referencesOf(node: Json, parent: string): Record<string, string | number> {
  const found: Record<string, string | number> = {};
  for (const [key, value] of Object.entries(node)) {
    if (typeof value !== 'string' && typeof value !== 'number') continue;
    const name = key === 'id' ? `${parent.replace(/s$/, '')}Id` : key;
    if (REFERENCE.test(name) && String(value).length <= 200) found[name] = value;
  }
  return found;
}
