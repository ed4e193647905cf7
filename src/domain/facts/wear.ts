import { daysBetween } from '../calendar.ts';
import { POSITION_KEYS, WHEELS } from '../catalogue/item.ts';
import { roundTo } from '../quantity.ts';
import type { PadReading } from '../trade/brakes/pad-forecast-wear.ts';
import { forecastPad } from '../trade/brakes/pad-forecast.ts';
import { axleOf, type EarlierEvent, type Fact, type FactInput, numberAt, ownNumberAt } from './fact.ts';

type PadPosition = keyof EarlierEvent['padThicknessMm'];

/** Thicker than before by more than a reading is sure to: the pads were changed, although nobody said so. */
function toReading(thicknessMm: number, sessions: number, before: PadReading | undefined): PadReading {
  const padsChanged = before !== undefined && thicknessMm > before.thicknessMm;
  return { thicknessMm, sessions, ...(padsChanged && { padsChanged }) };
}

/** What was measured of a pad at an event; undefined where it was not. */
type Measured = (pads: EarlierEvent['padThicknessMm']) => number | undefined;

/**
 * The readings of one pad, mm over days driven counted on, oldest first, today's last. Two readings between which the
 * car was not driven are one: the later.
 *
 * @param measured what of an earlier event is compared with today's value
 */
export function padReadings(earlier: readonly EarlierEvent[], measured: Measured, todayMm: number): PadReading[] {
  const readings: PadReading[] = [];
  let driven = 0;
  const add = (thicknessMm: number): void => {
    const last = readings.at(-1);
    if (last?.sessions === driven) readings.pop();
    readings.push(toReading(thicknessMm, driven, readings.at(-1)));
  };
  for (const event of earlier) {
    driven += event.daysBefore;
    const before = measured(event.padThicknessMm);
    if (before !== undefined) add(before);
    driven += event.daysAfter;
  }
  add(todayMm);
  return readings;
}

/** The pad itself. The position is one of pad.thickness, whose positions are keys of the record. */
const ofPad =
  (position: string): Measured =>
  (pads) =>
    pads[position as PadPosition];

/** The lowest of the axle: as it was given, else the least of its pads. */
const lowestOfAxle =
  (axle: 'front' | 'rear'): Measured =>
  (pads) => {
    const own = POSITION_KEYS['wheel-side'].filter((position) => axleOf(position) === axle);
    const known = [pads[axle], ...own.map((position) => pads[position])].filter((pad) => pad !== undefined);
    return known.length === 0 ? undefined : Math.min(...known);
  };

function atEnd(input: FactInput, position: string): number | undefined {
  const today = numberAt(input, 'pad.thickness', { position });
  if (today === undefined) return undefined;
  // the lowest of an axle is compared with the lowest of it before, whichever pad that was
  const isOwn = ownNumberAt(input, 'pad.thickness', position) !== undefined;
  const measured = isOwn ? ofPad(position) : lowestOfAxle(axleOf(position));
  const readings = padReadings(input.earlier, measured, today);
  const sessionsToCome = daysBetween(input.event.startsOn, input.event.endsOn) + 1;
  const forecast = forecastPad(readings, { sessionsToCome });
  const says = `No two measurements of the same pads at ${position}, with days driven between them, are known from earlier events`;
  return input.need(forecast && roundTo(forecast.endThicknessMm, 1), says);
}

/** The most worn pad of those that were measured. */
function lowestPad(input: FactInput): number | undefined {
  const pads = POSITION_KEYS['wheel-side'].map((position) => numberAt(input, 'pad.thickness', { position }));
  const known = pads.filter((pad) => pad !== undefined);
  return known.length === 0 ? undefined : Math.min(...known);
}

const SIDES = ['in', 'out'] as const;

/** The largest difference between the pads at the same place, left and right: known where both of one place are. */
function axleDifference(input: FactInput, axle: string): number | undefined {
  const [left, right] = axle === 'front' ? (['FL', 'FR'] as const) : (['RL', 'RR'] as const);
  const pad = (wheel: string, side: string) => ownNumberAt(input, 'pad.thickness', `${wheel}.${side}`);
  const differences = SIDES.map((side) => {
    const [one, other] = [pad(left, side), pad(right, side)];
    return one === undefined || other === undefined ? undefined : Math.abs(one - other);
  });
  // one place that is not known may hold the difference: then it is not known either
  return differences.every((one) => one !== undefined) ? roundTo(Math.max(...differences), 1) : undefined;
}

function liningDifference(input: FactInput, axle: string): number | undefined {
  const [left, right] = WHEELS.filter((wheel) => axleOf(wheel) === axle).map((wheel) =>
    ownNumberAt(input, 'lining.thickness', wheel),
  );
  return left === undefined || right === undefined ? undefined : roundTo(Math.abs(left - right), 1);
}

/** Known where each pad of an axle has an answer of its own, or is said not to be known; nobody is asked for it by this. */
function eachAnswered(input: FactInput, axle: string): true | undefined {
  const places = POSITION_KEYS['wheel-side'].filter((position) => axleOf(position) === axle);
  const isAnswered = (position: string): boolean =>
    input.given('pad.thickness', { position }) !== undefined || input.saidNone('pad.thickness', { position });
  return places.every(isAnswered) || undefined;
}

/** What wears from event to event. */
export const WEAR_FACTS = {
  padThicknessAtEnd: {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    scheme: 'wheel-side',
    meaning: 'the friction material left at the end of the event, as it has worn at earlier events',
    source: 'pad-forecast: wear per event day of the same pads, common practice',
    items: ['pad.thickness'],
    compute: atEnd,
  },
  lowestPad: {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    meaning: 'the friction material of the most worn pad',
    source: 'the least of what was measured',
    items: ['pad.thickness'],
    compute: lowestPad,
  },
  padsEachAnswered: {
    type: { kind: 'bool' },
    scheme: 'axle',
    meaning: 'that every pad of the axle has an answer of its own',
    source: 'the answers',
    items: ['pad.thickness'],
    compute: eachAnswered,
  },
  padAxleDifference: {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    scheme: 'axle',
    meaning: 'the largest difference between the pads at the same place, left and right',
    source: 'common practice, no source',
    items: ['pad.thickness'],
    compute: axleDifference,
  },
  liningAxleDifference: {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    scheme: 'axle',
    meaning: 'the difference between the drum linings left and right',
    source: 'common practice, no source',
    items: ['lining.thickness'],
    compute: liningDifference,
  },
} as const satisfies Readonly<Record<string, Fact>>;
