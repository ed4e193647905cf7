import type { Answers } from '../declaration/declaration.ts';
import { cellKey } from '../declaration/declaration.ts';
import type { CheckedPoint } from '../line/line-judgement.ts';
import type { FactInDoubt } from '../rules/model/finding.ts';
import type { AlwaysLook } from '../rules/model/rule-set.ts';
import type { Vehicle } from '../vehicle.ts';
import { comparedFacts, type FactValue, isImplausible, isName, listFacts, valueOf, withFact } from './car-facts.ts';
import { AS_DESCRIBED, factOfItem, itemOfFact, NUMBER_FACTS, numberFactOf, pairOf } from './fact-table.ts';

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
