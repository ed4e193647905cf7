import { wearBand, WEAR_HABITS, type WearHabit } from './wear-band.ts';

/** Numbers of one kind by place, mm. */
export type ByPlace = Readonly<Record<string, number>>;

/** What is declared now beside what is known from before; everything may be absent. */
export interface ToAddUp {
  /** sessions driven since the readings before */
  driven?: number | undefined;
  before?: { padMm: ByPlace; treadMm: ByPlace } | undefined;
  now: { padMm: ByPlace; treadMm: ByPlace };
  /** what the entrant said to be new since then */
  newSince?: { pads?: boolean | undefined; tyres?: boolean | undefined } | undefined;
  massKg?: number | undefined;
  cornerKg?: { FL: number; FR: number; RL: number; RR: number } | undefined;
  /** ISO date */
  fluidChangedOn?: string | undefined;
  /** year of manufacture of the car */
  builtIn?: number | undefined;
  /** instants, ISO */
  torqueSetAt?: string | undefined;
  wheelsFittedAt?: string | undefined;
}

export const DOUBT_CODES = [
  'grew',
  'worn-too-little',
  'worn-too-much',
  'same-as-before',
  'same-everywhere',
  'corner-weights',
  'fluid-before-car',
  'torque-before-wheels',
] as const;

/** Answers that do not go together, and where. It is a question, never a verdict. */
export interface Doubt {
  code: (typeof DOUBT_CODES)[number];
  of: 'pads' | 'tyres' | 'car' | 'fluid' | 'wheels';
  /** the places it is about; empty: the whole */
  places: readonly string[];
}

/**
 * Readings of two people, or of one on two days, may differ by this much, mm: two expanded uncertainties of a gauge
 * (root of the sum of squares) and the tenth they are rounded to. Common practice, no source.
 */
const READINGS_DIFFER_MM = 0.6;
/** So many places with the very same number are not read. Common practice, no source. */
const ALIKE_PLACES = { pads: 6, tyres: 8 } as const;
/** Corner weights and mass may differ by this share: fuel, driver, scales. Common practice, no source. */
const WEIGHTS_DIFFER = 0.08;
/** Share of honest parts whose wear lies outside the band. Common practice, no source. */
const OUTSIDE = 0.004;

const PARTS = [
  { of: 'pads', read: (of: { padMm: ByPlace }) => of.padMm, habit: WEAR_HABITS.pad },
  { of: 'tyres', read: (of: { treadMm: ByPlace }) => of.treadMm, habit: WEAR_HABITS.tread },
] as const;

/**
 * Looks for answers that physics or history does not allow together. What was said to be new is not held against what was
 * there before. Places are asked about together: one question per part. Pure; never throws.
 *
 * @see common practice, no source, for what readings may differ by; `wearBand` for wear
 */
export function doubtsOf(car: ToAddUp): Doubt[] {
  return [...PARTS.flatMap(({ of, read, habit }) => partDoubts(car, { of, read, habit })), ...wholeDoubts(car)];
}

interface Part {
  of: 'pads' | 'tyres';
  read(of: { padMm: ByPlace; treadMm: ByPlace }): ByPlace;
  habit: WearHabit;
}

function partDoubts(car: ToAddUp, { of, read, habit }: Part): Doubt[] {
  if (car.newSince?.[of] === true) return [];
  const now = read(car.now);
  const doubts: Doubt[] = [];
  const places = Object.keys(now);
  const values = Object.values(now);
  if (places.length >= ALIKE_PLACES[of] && new Set(values).size === 1)
    doubts.push({ code: 'same-everywhere', of, places: [] });
  if (car.before === undefined) return doubts;
  const before = read(car.before);
  const both = places.filter((place) => before[place] !== undefined);
  const pairs = both.map((place) => ({ place, was: before[place] ?? 0, is: now[place] ?? 0 }));
  const grown = pairs.filter(({ was, is }) => is - was > READINGS_DIFFER_MM);
  if (grown.length > 0) return [...doubts, { code: 'grew', of, places: grown.map(({ place }) => place) }];
  const driven = car.driven ?? 0;
  if (driven < 2 || pairs.length === 0) return doubts;
  if (pairs.length >= ALIKE_PLACES[of] && pairs.every(({ was, is }) => was === is))
    return [...doubts, { code: 'same-as-before', of, places: [] }];
  return [...doubts, ...wearDoubts(pairs, { of, habit, driven })];
}

/** The mean of all places against what so many sessions take: single places scatter, the mean of a careful hand does not. */
function wearDoubts(
  pairs: readonly { place: string; was: number; is: number }[],
  { of, habit, driven }: { of: Part['of']; habit: WearHabit; driven: number },
): Doubt[] {
  const mean = (value: (pair: { was: number; is: number }) => number) =>
    pairs.reduce((sum, pair) => sum + value(pair), 0) / pairs.length;
  const was = mean((pair) => pair.was);
  const is = mean((pair) => pair.is);
  const { low, high } = wearBand([{ sessions: 0, mm: was }], driven, habit, { isRead: true, outside: OUTSIDE });
  if (is > high) return [{ code: 'worn-too-little', of, places: [] }];
  if (is < low) return [{ code: 'worn-too-much', of, places: [] }];
  return [];
}

function wholeDoubts({ massKg, cornerKg, fluidChangedOn, builtIn, torqueSetAt, wheelsFittedAt }: ToAddUp): Doubt[] {
  const doubts: Doubt[] = [];
  if (massKg !== undefined && cornerKg !== undefined) {
    const sum = cornerKg.FL + cornerKg.FR + cornerKg.RL + cornerKg.RR;
    if (Math.abs(sum - massKg) > WEIGHTS_DIFFER * massKg)
      doubts.push({ code: 'corner-weights', of: 'car', places: [] });
  }
  if (fluidChangedOn !== undefined && builtIn !== undefined && Number(fluidChangedOn.slice(0, 4)) < builtIn)
    doubts.push({ code: 'fluid-before-car', of: 'fluid', places: [] });
  if (torqueSetAt !== undefined && wheelsFittedAt !== undefined && torqueSetAt < wheelsFittedAt)
    doubts.push({ code: 'torque-before-wheels', of: 'wheels', places: [] });
  return doubts;
}

/** Cars that claim the same thing: the same photo, or a label with the same number. Pure; never throws. */
export function claimedTwice(
  claims: readonly { car: string; mark: string }[],
): { mark: string; cars: readonly string[] }[] {
  const cars = new Map<string, Set<string>>();
  for (const { car, mark } of claims) cars.set(mark, (cars.get(mark) ?? new Set()).add(car));
  return [...cars].flatMap(([mark, of]) => (of.size > 1 ? [{ mark, cars: [...of] }] : []));
}
