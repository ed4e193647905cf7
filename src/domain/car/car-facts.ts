import type { Vehicle } from '../vehicle.ts';
import { AS_DESCRIBED, factOfItem, itemOfFact, NUMBER_FACTS, numberFactOf, pairOf } from './fact-table.ts';
import { type Answers, cellKey } from '../declaration/declaration.ts';
import type { CheckedPoint } from '../line/line-judgement.ts';
import type { FactInDoubt } from '../rules/model/finding.ts';
import type { AlwaysLook } from '../rules/model/rule-set.ts';

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
const isName = (path: string): boolean => path === 'description' || path === 'colour';

/** Of the facts of a path list those that the car is compared with as a whole. */
const comparedFacts = (unconfirmed: readonly string[], record: Vehicle): string[] =>
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

/** Whether a tick is not enough: what a rule hangs on alone is read, and what is hardly meant is found out. */
export const needsReading = (path: string, vehicle: Vehicle): boolean =>
  numberFactOf(path)?.readAt === 'alone' || isImplausible(path, valueOf(vehicle, path) ?? '');

/** Whether nothing but reading it settles what needs it: the mark on a part, which nobody knows yet. */
export const mustBeRead = ({ path, why }: FactInDoubt): boolean =>
  why === 'missing' && numberFactOf(path)?.stamped === true;

/** Whether the line reads it at the other wheel of the axle: the right one, where both were written alike. */
export function isReadAtPair(path: string, vehicle: Vehicle): boolean {
  const pair = pairOf(path);
  const isRight = path.endsWith('R');
  return pair !== undefined && isRight && valueOf(vehicle, pair) === valueOf(vehicle, path);
}

/** What the line found out about the car: the value of each fact it stands for from now on. */
export type ReadFacts = ReadonlyMap<string, FactValue>;

interface Looked {
  measured: Answers;
  checked: readonly CheckedPoint[];
  /** points that were not as they must be */
  notOk: readonly { item: string; position?: string | undefined }[];
}

/**
 * The facts that an inspector's checks settle: numbers that he gave or, where that is enough, agreed with, and, where
 * he compared the car, all that is compared. One stamp is that of both wheels of the axle, where both were written alike.
 *
 * @param unconfirmed the paths that nobody of the staff stands for
 */
export function readFacts(vehicle: Vehicle, unconfirmed: readonly string[], looked: Looked): ReadFacts {
  const read = new Map<string, FactValue>();
  const isOk = (item: string, position?: string): boolean =>
    looked.checked.some((one) => one.item === item && one.position === position) &&
    looked.measured.get(cellKey(item, position)) !== false &&
    !looked.notOk.some((one) => one.item === item && one.position === position);
  const open = new Set(unconfirmed);
  const note = (path: string, value: FactValue): void => {
    const pair = pairOf(path);
    read.set(path, value);
    if (pair === undefined || looked.measured.has(cellOfFact(pair))) return;
    const other = valueOf(vehicle, pair);
    if (other === valueOf(vehicle, path) && (other === undefined || open.has(pair))) read.set(pair, value);
  };
  for (const { path, value } of valuesIn(looked.measured)) note(path, value);
  for (const path of unconfirmed) {
    const value = valueOf(vehicle, path);
    const { item, position } = itemOfFact(path);
    if (value === undefined || read.has(path) || numberFactOf(path) === undefined) continue;
    if (!needsReading(path, vehicle) && isOk(item, position)) note(path, value);
  }
  if (isOk(AS_DESCRIBED)) {
    for (const path of comparedFacts(unconfirmed, vehicle)) {
      const value = valueOf(vehicle, path);
      if (value !== undefined && !read.has(path)) read.set(path, value);
    }
  }
  return read;
}

const cellOfFact = (path: string): string => {
  const { item, position } = itemOfFact(path);
  return cellKey(item, position);
};

function* valuesIn(measured: Answers): Generator<{ path: string; value: number }> {
  for (const { field, scheme } of NUMBER_FACTS) {
    const places =
      scheme === undefined ? [undefined] : scheme === 'wheel' ? ['FL', 'FR', 'RL', 'RR'] : ['front', 'rear'];
    for (const position of places) {
      const path = factOfItem(itemOfFact(field).item, position);
      const value = path === undefined ? undefined : measured.get(cellOfFact(path));
      if (path !== undefined && typeof value === 'number') yield { path, value };
    }
  }
}

/** The car with what was found out of it, and what is still open then. */
export function withReadFacts(
  { vehicle, unconfirmed }: { vehicle: Vehicle; unconfirmed: readonly string[] },
  read: ReadFacts,
): { vehicle: Vehicle; unconfirmed: readonly string[] } {
  let found = vehicle;
  for (const [path, value] of read) if (valueOf(found, path) !== value) found = withFact(found, path, value);
  return { vehicle: found, unconfirmed: unconfirmed.filter((path) => !read.has(path)) };
}

/**
 * What was judged at submission beside what is known of the car now: what the staff has confirmed since then counts, with
 * the value they stand for.
 *
 * @param now the record and its open facts of today
 */
export function confirmedSince(
  judged: { vehicle: Vehicle; unconfirmed: readonly string[] },
  now: { vehicle: Vehicle; unconfirmed: readonly string[] },
): { vehicle: Vehicle; unconfirmed: readonly string[] } {
  const open = new Set(now.unconfirmed);
  const confirmed = judged.unconfirmed.flatMap((path): [string, FactValue][] => {
    const value = valueOf(now.vehicle, path);
    return value === undefined || open.has(path) ? [] : [[path, value]];
  });
  return withReadFacts(judged, new Map(confirmed));
}

/** The look that a car needs of which the staff has not seen all that is compared: as the first thing on every such car. */
export function comparedPoint(vehicle: Vehicle, unconfirmed: readonly string[]): AlwaysLook[] {
  const open = new Set(comparedFacts(unconfirmed, vehicle));
  if ([...open].every(isName)) return [];
  const said = listFacts(vehicle).flatMap(([path, value]) =>
    open.has(path) && !isName(path) ? [sayCompared(path, value)] : [],
  );
  const title = `Compare the car with what the entrant wrote: ${said.join(', ')}.`;
  return [{ id: 'car-as-described', title, items: [AS_DESCRIBED], seconds: 20 }];
}

const words = (name: string): string =>
  name
    .replaceAll(/([a-z])([A-Z])/gu, '$1 $2')
    .replaceAll('-', ' ')
    .toLowerCase();

/** `rear rotor drum`, `mass 1210 kg`: short, for a list. */
function sayCompared(path: string, value: FactValue): string {
  const [field = '', position] = path.split('.');
  const fact = numberFactOf(path);
  const at = position === undefined ? '' : `${words(position)} `;
  if (fact !== undefined) return `${at}${fact.label.replace(/^the /u, '')} ${value} ${fact.type.unit}`;
  if (typeof value === 'boolean') return `${value ? '' : 'no '}${at}${words(field)}`;
  return `${at}${words(field)} ${typeof value === 'string' ? value.replaceAll('-', ' ') : value}`;
}
