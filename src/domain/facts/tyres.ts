import { roundTo } from '../quantity.ts';
import { SEA_LEVEL_KPA } from '../trade/standard-atmosphere.ts';
import { tyreAgeMonths } from '../trade/tyres/tyre-age.ts';
import { hotPressureKpa } from '../trade/tyres/tyre-pressure.ts';
import { ratingCovers } from '../trade/tyres/tyre-rating.ts';
import { axleOf, type Fact, type FactInput, numberAt, textAt } from './fact.ts';

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
