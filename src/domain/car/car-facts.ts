import type { Vehicle } from '../vehicle.ts';
import { numberFactOf } from './fact-table.ts';

/**
 * Where a fact of a car is from. `stamped`: read off the part; `handbook`: from its maker's papers; `entered`: from memory
 * or whatever else; all three by whoever entered the car. `confirmed`: the staff stand for it.
 */
export const ORIGINS = ['stamped', 'handbook', 'entered', 'confirmed'] as const;
export type Origin = (typeof ORIGINS)[number];

/** Who said a fact, and from what. */
export interface FactOrigin {
  origin: Origin;
  by: {
    /** absent for whoever has no token any more */
    tokenId?: string | undefined;
    /** `owner`: by the link of the car or as entrant; `shop`; `staff` */
    as: 'owner' | 'shop' | 'staff';
    name: string;
  };
  /** instant, RFC 3339 UTC */
  at: string;
  photoId?: string | undefined;
  /** given again after being asked whether an unusual value is meant */
  again?: true | undefined;
}

/**
 * By the path of each fact: `massKg`, `rotorMinimumThicknessMm.FL`; under `''` for all that have none of their own, so that a
 * record which an organizer wrote in one go says so once.
 */
export type Origins = Readonly<Record<string, FactOrigin>>;

/** Who said a fact; nothing for what was written before origins were kept. */
export const originOf = (origins: Origins, path: string): FactOrigin | undefined => origins[path] ?? origins[''];

export type FactValue = string | number | boolean;

type Tree = Readonly<Record<string, unknown>>;
const isTree = (value: unknown): value is Tree => typeof value === 'object' && value !== null;

/** Every single fact of a record by its path, in the order of the record. */
export function listFacts(record: object): [path: string, value: FactValue][] {
  return Object.entries(record).flatMap(([name, value]): [string, FactValue][] => {
    if (isTree(value)) return listFacts(value).map(([path, one]) => [`${name}.${path}`, one]);
    return value === undefined ? [] : [[name, value as FactValue]]; // leaves of a record are single values
  });
}

/** The paths at which two records differ. */
export function changedFacts(before: object, after: object): string[] {
  const [old, now] = [new Map(listFacts(before)), new Map(listFacts(after))];
  return [...new Set([...old.keys(), ...now.keys()])].filter((path) => old.get(path) !== now.get(path));
}

/** A copy of the record with one fact changed; `undefined` takes it away, with the group that it leaves empty. */
export function withFact<T extends object>(record: T, path: string, value: FactValue | undefined): T {
  const [name = '', ...rest] = path.split('.');
  const copy: Record<string, unknown> = { ...(record as Tree) };
  const below = rest.length === 0 ? value : withFact(isTree(copy[name]) ? copy[name] : {}, rest.join('.'), value);
  if (below === undefined || (isTree(below) && Object.keys(below).length === 0)) delete copy[name];
  else copy[name] = below;
  return copy as T; // the same record, with a leaf changed
}

/** Whether a number is one that such cars do not have: more likely a slip of the pen, or another unit. */
export function isImplausible(path: string, value: FactValue): boolean {
  const plausible = numberFactOf(path)?.type.plausible;
  if (plausible === undefined || typeof value !== 'number') return false;
  return value < plausible[0] || value > plausible[1];
}

/**
 * The facts that nobody of the staff stands for. What is in a record without an origin was written by an organizer before
 * origins were kept, and counts as confirmed; an unusual number counts only when it was given again.
 */
export function unconfirmedFacts(record: object, origins: Origins): string[] {
  return listFacts(record)
    .filter(([path, value]) => {
      const from = originOf(origins, path);
      const isConfirmed = from === undefined || from.origin === 'confirmed';
      return !isConfirmed || (isImplausible(path, value) && from?.again !== true);
    })
    .map(([path]) => path);
}

/**
 * The origins of a record after it was replaced: what changed is from whoever replaced it, what is gone has none, and what
 * stayed the same stays from whom it was. So reading a record and sending it back confirms nothing.
 */
export function originsAfter(before: { record: object; origins: Origins }, after: object, by: FactOrigin): Origins {
  const origins: Record<string, FactOrigin> = { ...before.origins };
  const there = new Set(listFacts(after).map(([path]) => path));
  for (const path of changedFacts(before.record, after)) {
    if (there.has(path)) origins[path] = by;
    else delete origins[path];
  }
  return origins;
}

/** Nothing that judges a car hangs on them; they are seen with the rest, and ask for no look of their own. */
export const isName = (path: string): boolean => path === 'description' || path === 'colour';

/** Of the facts of a path list those that the car is compared with as a whole. */
export const comparedFacts = (unconfirmed: readonly string[], record: Vehicle): string[] =>
  unconfirmed.filter((path) => {
    if (path.startsWith('baseline.')) return false;
    const fact = numberFactOf(path);
    return fact === undefined || (fact.readAt === 'compare' && !isImplausible(path, valueOf(record, path) ?? ''));
  });

/** The value at a path of a record. */
export function valueOf(record: object, path: string): FactValue | undefined {
  let value: unknown = record;
  for (const name of path.split('.')) value = isTree(value) && Object.hasOwn(value, name) ? value[name] : undefined;
  return isTree(value) ? undefined : (value as FactValue | undefined);
}
