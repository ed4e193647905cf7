import { roundTo } from '../quantity.ts';
import { SEA_LEVEL_KPA } from '../trade/standard-atmosphere.ts';
import { tyreAgeMonths } from '../trade/tyres/tyre-age.ts';
import { hotPressureKpa } from '../trade/tyres/tyre-pressure.ts';
import { findTyreRating, ratingCovers } from '../trade/tyres/tyre-rating.ts';
import { WHEELS } from '../catalogue/item.ts';
import { axleOf, type Fact, type FactInput, numberAt, ownNumberAt, textAt } from './fact.ts';

/** The air in a tyre after a session of a track day, °C. Common practice, no source. */
export const HOT_TYRE_AIR_C = 75;
/** Any load: for the speed symbol alone, which does not depend on it. */
const SOME_LOAD_KG = 1;

function age(input: FactInput, position: string): number | undefined {
  const code = textAt(input, 'tyre.date-code', { position });
  if (code === undefined) return undefined;
  const says = `The date code of the tyre at ${position} is not a week and year up to the last event day`;
  return input.need(tyreAgeMonths(code, input.event.endsOn), says);
}

function ratingOf(input: FactInput, position: string): string | undefined {
  return textAt(input, 'tyre.rating', { position });
}

const topSpeed = ({ venue, need }: FactInput): number | undefined =>
  need(venue.topSpeedKmh, 'The venue record has no topSpeedKmh', 'record');

const unreadable = (position: string): string =>
  `The load index and speed symbol of the tyre at ${position} are in no table`;

function loadOk(input: FactInput, position: string): boolean | undefined {
  const axle = axleOf(position);
  const rating = ratingOf(input, position);
  const speed = topSpeed(input);
  const load = input.need(
    input.vehicle.axleLoadKg?.[axle],
    `The vehicle record has no axleLoadKg.${axle}`,
    `axleLoadKg.${axle}`,
  );
  if (rating === undefined || speed === undefined || load === undefined) return undefined;
  return input.need(ratingCovers(rating, load, speed)?.loadOk, unreadable(position));
}

function speedOk(input: FactInput, position: string): boolean | undefined {
  const rating = ratingOf(input, position);
  const speed = topSpeed(input);
  if (rating === undefined || speed === undefined) return undefined;
  return input.need(ratingCovers(rating, SOME_LOAD_KG, speed)?.speedOk, unreadable(position));
}

function hotForecast(input: FactInput, position: string): number | undefined {
  const cold = numberAt(input, 'tyre.cold-pressure', { position });
  const air = input.need(input.venue.designAirTemperatureC, 'The venue record has no designAirTemperatureC', 'record');
  if (cold === undefined || air === undefined) return undefined;
  return roundTo(hotPressureKpa(cold, air, HOT_TYRE_AIR_C, SEA_LEVEL_KPA), 0);
}

/** What a tyre's marks and pressures say. */
export const TYRE_FACTS = {
  tyreAge: {
    type: { kind: 'quantity', unit: 'month', decimals: 0 },
    scheme: 'wheel',
    meaning: 'the age of the tyre on the last event day, from the earliest day of its week',
    source: 'tyre-age: 49 CFR 574.5, week and year',
    items: ['tyre.date-code'],
    compute: age,
  },
  tyreLoadOk: {
    type: { kind: 'bool' },
    scheme: 'wheel',
    meaning: 'whether the tyre carries its half of the axle load at the top speed of the venue',
    source: 'tyre-rating: load index table of ISO 4000-1 and UNECE R30',
    items: ['tyre.rating'],
    compute: loadOk,
  },
  tyreSpeedOk: {
    type: { kind: 'bool' },
    scheme: 'wheel',
    meaning: 'whether the speed symbol of the tyre covers the top speed of the venue',
    source: 'tyre-rating: speed symbols of UNECE R30',
    items: ['tyre.rating'],
    compute: speedOk,
  },
  hotPressureForecast: {
    type: { kind: 'quantity', unit: 'kPa', decimals: 0 },
    scheme: 'wheel',
    meaning: `the hot pressure that the cold one gives: set at the venue's air temperature, ${HOT_TYRE_AIR_C} °C hot`,
    source: 'tyre-pressure: gas law at constant volume; the hot temperature is common practice',
    items: ['tyre.cold-pressure'],
    compute: hotForecast,
  },
} as const satisfies Readonly<Record<string, Fact>>;

const RATING = 'tyre.rating';
const AXLE_MARKING = 'tyre.axle-marking';
const MARKINGS = [RATING, AXLE_MARKING];

const SIDES = { front: ['FL', 'FR'], rear: ['RL', 'RR'] } as const;
const sidesOf = (axle: string): readonly ['FL', 'FR'] | readonly ['RL', 'RR'] =>
  axle === 'front' ? SIDES.front : SIDES.rear;

/** What is read at the wheel, else what was read once for its axle. */
function markingOf(input: FactInput, position: string): string | undefined {
  return (
    textAt(input, RATING, { position }) ?? textAt(input, AXLE_MARKING, { position: axleOf(position), field: 'rating' })
  );
}

/** No car goes faster here than it can, nor than the circuit lets it: the lower of the two that are known. */
function speedHere({ vehicle, venue, need }: FactInput): number | undefined {
  const known = [vehicle.topSpeedKmh, venue.topSpeedKmh].filter((kmh) => kmh !== undefined);
  const says = 'Neither the vehicle record nor the venue record has a topSpeedKmh';
  return need(known.length === 0 ? undefined : Math.min(...known), says, 'record');
}

function speedShortfall(input: FactInput, position: string): number | undefined {
  const marking = markingOf(input, position);
  const speedKmh = speedHere(input);
  if (marking === undefined || speedKmh === undefined) return undefined;
  const rating = input.need(findTyreRating(marking), unreadable(position));
  return rating && roundTo(Math.max(0, speedKmh - rating.symbolKmh), 0);
}

/** Where only the mass is known: what all four carry together, so that no tyre is blamed for how the car is balanced. */
function massShare(input: FactInput, massKg: number): number | undefined {
  const speedKmh = speedHere(input);
  let capacityKg = 0;
  for (const position of WHEELS) {
    const marking = markingOf(input, position);
    if (marking === undefined || speedKmh === undefined) return undefined;
    const cover = input.need(ratingCovers(marking, massKg / 2, speedKmh), unreadable(position));
    if (cover === undefined) return undefined;
    capacityKg += cover.capacityKg;
  }
  return roundTo(massKg / capacityKg, 2);
}

function loadShare(input: FactInput, position: string): number | undefined {
  const axle = axleOf(position);
  const marking = markingOf(input, position);
  const speedKmh = speedHere(input);
  const { axleLoadKg, massKg } = input.vehicle;
  if (axleLoadKg?.[axle] === undefined && massKg !== undefined) return massShare(input, massKg);
  const loadKg = input.need(axleLoadKg?.[axle], `The vehicle record has no axleLoadKg.${axle}`, `axleLoadKg.${axle}`);
  if (marking === undefined || speedKmh === undefined || loadKg === undefined) return undefined;
  const cover = input.need(ratingCovers(marking, loadKg, speedKmh), unreadable(position));
  return cover && roundTo(loadKg / 2 / cover.capacityKg, 2);
}

/** What is read at each wheel; where one side alone was, what was read once for the axle stands for the other. */
function bothRatings(input: FactInput, axle: string) {
  const own = sidesOf(axle).map((position) => textAt(input, RATING, { position }));
  const once = own.every((marking) => marking === undefined)
    ? undefined
    : input.given(AXLE_MARKING, { position: axle, field: 'rating' });
  const [left, right] = own.map((marking, side) => {
    const said = marking ?? once;
    return typeof said === 'string'
      ? input.need(findTyreRating(said), unreadable(sidesOf(axle)[side] ?? axle))
      : undefined;
  });
  const isEach = own.every((marking) => marking !== undefined);
  return left === undefined || right === undefined ? undefined : { left, right, isEach };
}

function loadIndexDifference(input: FactInput, axle: string): number | undefined {
  const both = bothRatings(input, axle);
  return both && Math.abs(both.left.loadIndex - both.right.loadIndex);
}

/** One wheel that is as its axle says nothing of the other; one that is not is unlike it. */
function ratingsAlike(input: FactInput, axle: string): boolean | undefined {
  const both = bothRatings(input, axle);
  if (both === undefined) return undefined;
  const { left, right, isEach } = both;
  const isAlike = left.loadIndex === right.loadIndex && left.symbol === right.symbol;
  return isAlike && !isEach ? undefined : isAlike;
}

function pressureDifference(input: FactInput, axle: string): number | undefined {
  const [left, right] = sidesOf(axle).map((position) => ownNumberAt(input, 'tyre.cold-pressure', position));
  return left === undefined || right === undefined ? undefined : Math.abs(left - right);
}

/** What tyres are marked with, against the car and the circuit, and left against right. */
export const TYRE_MARKING_FACTS = {
  tyreSpeedShortfall: {
    type: { kind: 'quantity', unit: 'km/h', decimals: 0 },
    scheme: 'wheel',
    meaning: 'how far the speed symbol of the tyre is below the lower of what the car and what the circuit allow',
    source: 'tyre-rating: speed symbols of UNECE R30',
    items: MARKINGS,
    compute: speedShortfall,
  },
  tyreLoadShare: {
    type: { kind: 'double', decimals: 2 },
    scheme: 'wheel',
    meaning:
      'half of the axle load over what the tyre carries at the speed that is reached, or of the mass over what all four carry where only that is known; above 1 it is overloaded',
    source: 'tyre-rating: load index table of ISO 4000-1 and UNECE R30',
    items: MARKINGS,
    compute: loadShare,
  },
  tyreLoadIndexDifference: {
    type: { kind: 'double', decimals: 0 },
    scheme: 'axle',
    meaning: 'the difference between the load indices left and right',
    source: 'tyre-rating',
    items: MARKINGS,
    compute: loadIndexDifference,
  },
  tyreRatingsAlike: {
    type: { kind: 'bool' },
    scheme: 'axle',
    meaning: 'whether both tyres of the axle have one load index and one speed symbol',
    source: 'tyre-rating',
    items: MARKINGS,
    compute: ratingsAlike,
  },
  tyrePressureDifference: {
    type: { kind: 'quantity', unit: 'kPa', decimals: 0 },
    scheme: 'axle',
    meaning: 'the difference between the cold pressures left and right',
    source: 'the difference of two answers',
    items: ['tyre.cold-pressure'],
    compute: pressureDifference,
  },
} as const satisfies Readonly<Record<string, Fact>>;
