import { findItem, itemApplies, positionsFor } from '../catalogue/catalogue.ts';
import { type Answers, cellKey, parseCellKey } from '../declaration/declaration.ts';
import { axleOf, type EarlierEvent } from '../facts/fact.ts';
import { isNear } from '../catalogue/item.ts';
import { roundTo } from '../quantity.ts';
import type { Vehicle } from '../vehicle.ts';
import { type ByPlace, type Doubt, doubtsOf, type ToAddUp } from './adds-up.ts';

/** What is known of an entry when its answers are looked at together. */
export interface KnownOfEntry {
  answers: Answers;
  vehicle: Vehicle;
  /** earlier events of the car, oldest first */
  earlier: readonly EarlierEvent[];
  /** first day of the event: what is known of the car from then on is no earlier time */
  startsOn: string;
  /** of a run group; where no timetable is known as many as are usual */
  sessionsPerDay: number;
}

/** Answers that do not go together, with where they stand. It is a question, never a verdict. */
export interface EntryDoubt {
  code: Doubt['code'];
  of: Doubt['of'];
  /** item that it is about, and its places on this car; none: the whole */
  item: string;
  places: readonly string[];
  /** of what wears: the mean of the places before and now, mm */
  mm?: { before: number; now: number };
  /** in one sentence, English: `messageIn` has it in other languages */
  says: string;
}

/** The items behind each part: what is measured, place by place before it is measured once, and the question whether it is new. */
const ITEMS = {
  pads: { measured: ['pad.thickness'], isNew: 'pad.new-since-last' },
  tyres: { measured: ['tyre.tread', 'tyre.tread-lowest'], isNew: 'tyre.new-since-last' },
} as const;
type Part = keyof typeof ITEMS;
const PARTS = ['pads', 'tyres'] as const;
const CORNERS = 'setup.corner-weights';

/** What was read of both parts at one time, with the days driven by then, counted on over the events. */
interface Time {
  day: number;
  mm: Record<Part, ByPlace>;
}

function timesOf(earlier: readonly EarlierEvent[], startsOn: string): { times: Time[]; days: number } {
  const times: Time[] = [];
  let days = 0;
  for (const event of earlier.filter(({ endsOn }) => endsOn < startsOn)) {
    const { padThicknessMm, treadMm = {}, daysBefore, daysAfter, logged = [] } = event;
    times.push({ day: days + daysBefore, mm: { pads: known(padThicknessMm), tyres: known(treadMm) } });
    for (const { driven, padThicknessMm: pads, treadMm: treads } of logged)
      times.push({ day: days + driven, mm: { pads: known(pads), tyres: known(treads) } });
    days += daysBefore + daysAfter;
  }
  return { times, days };
}

const known = (mm: Readonly<Partial<Record<string, number>>>): ByPlace =>
  Object.fromEntries(Object.entries(mm).flatMap(([place, value]) => (value === undefined ? [] : [[place, value]])));

/** What is declared of a part now: of items that ask the same the one with the most places. */
function declaredOf(part: Part, answers: Answers): { item: string; mm: ByPlace } {
  const read = ITEMS[part].measured.map((item) => {
    const mm: Record<string, number> = {};
    for (const [cell, value] of answers) {
      const { key, position } = parseCellKey(cell);
      if (key === item && position !== undefined && typeof value === 'number') mm[position] = value;
    }
    return { item, mm };
  });
  return read.reduce((one, other) => (Object.keys(other.mm).length > Object.keys(one.mm).length ? other : one));
}

/** The least of the places of an axle or wheel, under its name. */
const lowestBy = (mm: ByPlace, nameOf: (place: string) => string): ByPlace => {
  const lowest: Record<string, number> = {};
  for (const [place, value] of Object.entries(mm))
    lowest[nameOf(place)] = Math.min(lowest[nameOf(place)] ?? value, value);
  return lowest;
};
const axleName = (place: string): string => (place === 'front' || place === 'rear' ? place : axleOf(place));
const wheelName = (place: string): string => place.split('.')[0] ?? place;

/** Both times as they can be compared: place by place, else by the lowest of the wheel, else by that of the axle. */
function alike(before: ByPlace, now: ByPlace): { before: ByPlace; now: ByPlace } {
  const isShared = Object.keys(now).every((place) => before[place] !== undefined);
  if (isShared) return { before, now };
  const isAxle = [before, now].some((mm) => Object.keys(mm).some((place) => place === axleName(place)));
  const nameOf = isAxle ? axleName : wheelName;
  return { before: lowestBy(before, nameOf), now: lowestBy(now, nameOf) };
}

/** Places of the axles whose part was not said to be new. */
function withoutNew(mm: ByPlace, part: Part, answers: Answers): ByPlace {
  const isNew = (place: string): boolean => answers.get(cellKey(ITEMS[part].isNew, axleName(place))) === true;
  return Object.fromEntries(Object.entries(mm).filter(([place]) => !isNew(place)));
}

/** The doubts about what wears: each part against the newest time at which it was read. */
function wearDoubtsOf(part: Part, { answers, earlier, startsOn, sessionsPerDay, vehicle }: KnownOfEntry): EntryDoubt[] {
  const { item, mm } = declaredOf(part, answers);
  const { times, days } = timesOf(earlier, startsOn);
  const last = times.findLast((time) => Object.keys(time.mm[part]).length > 0);
  const given = withoutNew(mm, part, answers);
  const { before, now } = last === undefined ? { before: undefined, now: given } : alike(last.mm[part], given);
  const none = { padMm: {}, treadMm: {} };
  const of = (one: ByPlace) => ({ ...none, [part === 'pads' ? 'padMm' : 'treadMm']: one });
  const car: ToAddUp = {
    now: of(now),
    ...(before !== undefined && last !== undefined
      ? { before: of(before), driven: (days - last.day) * sessionsPerDay }
      : {}),
  };
  return doubtsOf(car).map((doubt) => {
    const compared = Object.keys(now).filter((place) => before?.[place] !== undefined);
    const about = doubt.places.length > 0 ? doubt.places : compared.length > 0 ? compared : Object.keys(now);
    const mean = (one: ByPlace): number =>
      roundTo(about.reduce((sum, place) => sum + (one[place] ?? 0), 0) / Math.max(1, about.length), 1);
    const compares =
      before === undefined || doubt.code === 'same-everywhere' ? {} : { mm: { before: mean(before), now: mean(now) } };
    const found = { code: doubt.code, of: doubt.of, item, places: placesOn(vehicle, item, about), ...compares };
    return { ...found, says: sayDoubt(found) };
  });
}

/** The places of an item on the car at or within those that are named. */
function placesOn(vehicle: Vehicle, key: string, named: readonly string[]): string[] {
  const item = findItem(key);
  const positions = item !== undefined && itemApplies(item, vehicle) ? (positionsFor(item, vehicle) ?? []) : [];
  return positions.filter((position) => named.some((place) => isNear(position, place)));
}

function weightDoubts({ answers, vehicle }: KnownOfEntry): EntryDoubt[] {
  const [FL, FR, RL, RR] = (['FL', 'FR', 'RL', 'RR'] as const).map((wheel) => answers.get(cellKey(CORNERS, wheel)));
  if (typeof FL !== 'number' || typeof FR !== 'number' || typeof RL !== 'number' || typeof RR !== 'number') return [];
  const now = { padMm: {}, treadMm: {} };
  return doubtsOf({ now, massKg: vehicle.massKg, cornerKg: { FL, FR, RL, RR } }).map(({ code, of }) => {
    const found = { code, of, item: CORNERS, places: placesOn(vehicle, CORNERS, ['FL', 'FR', 'RL', 'RR']) };
    return { ...found, says: sayDoubt(found) };
  });
}

const SAYS: Readonly<Record<EntryDoubt['code'], string>> = {
  grew: 'More is left than last time ({before} mm then, {now} mm now), and nobody said that they are new or others.',
  'worn-too-little': 'Less was worn than so many sessions take ({before} mm then, {now} mm now).',
  'worn-too-much': 'More was worn than so many sessions take ({before} mm then, {now} mm now).',
  'same-as-before': 'All numbers are those of last time, although the car was driven.',
  'same-everywhere': 'All places have the very same number.',
  'corner-weights': 'The four corner weights together are not the mass of the car.',
  'fluid-before-car': 'The fluid was changed before the car was built.',
  'torque-before-wheels': 'The wheels were fitted after they were torqued.',
};

const sayDoubt = ({ code, mm }: Pick<EntryDoubt, 'code' | 'mm'>): string =>
  SAYS[code].replace('{before}', String(mm?.before)).replace('{now}', String(mm?.now));

/**
 * Answers of an entry that physics or the car's own history does not allow together: pads and treads against what was read of
 * them at earlier events, and corner weights against the mass. An axle that is said to have new ones is not compared. Pure;
 * never throws. An honest car may be asked now and then, and a careless one may not be: nothing is decided by it.
 *
 * @see `doubtsOf`
 */
export function entryDoubts(of: KnownOfEntry): EntryDoubt[] {
  return [...PARTS.flatMap((part) => wearDoubtsOf(part, of)), ...weightDoubts(of)];
}

/** The item that asks whether what a doubt is about is new; none where that would not explain it. */
export const newItemOf = ({ of }: EntryDoubt): string | undefined =>
  of === 'pads' || of === 'tyres' ? ITEMS[of].isNew : undefined;

/** Whether the entrant said of all places of a doubt that nothing is new there, so that what is left is to read again. */
export function isSaidNotNew({ of, places }: EntryDoubt, answers: Answers): boolean {
  if (of !== 'pads' && of !== 'tyres') return true;
  return places.every((place) => answers.get(cellKey(ITEMS[of].isNew, axleName(place))) === false);
}
