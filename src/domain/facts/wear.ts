import { daysBetween } from '../calendar.ts';
import { POSITION_KEYS } from '../catalogue/item.ts';
import { roundTo } from '../quantity.ts';
import type { PadReading } from '../trade/brakes/pad-forecast-wear.ts';
import { forecastPad } from '../trade/brakes/pad-forecast.ts';
import { type EarlierEvent, type Fact, type FactInput, numberAt } from './fact.ts';

type PadPosition = keyof EarlierEvent['padThicknessMm'];

/** Thicker than before by more than a reading is sure to: the pads were changed, although nobody said so. */
function toReading(thicknessMm: number, sessions: number, before: PadReading | undefined): PadReading {
  const padsChanged = before !== undefined && thicknessMm > before.thicknessMm;
  return { thicknessMm, sessions, ...(padsChanged && { padsChanged }) };
}

/**
 * The readings of one pad, mm over days driven counted on, oldest first, today's last. Two readings between which the
 * car was not driven are one: the later.
 */
export function padReadings(earlier: readonly EarlierEvent[], position: string, todayMm: number): PadReading[] {
  const readings: PadReading[] = [];
  let driven = 0;
  const add = (thicknessMm: number): void => {
    const last = readings.at(-1);
    if (last?.sessions === driven) readings.pop();
    readings.push(toReading(thicknessMm, driven, readings.at(-1)));
  };
  for (const event of earlier) {
    driven += event.daysBefore;
    // the position is one of pad.thickness, whose positions are the keys of the record
    const measured = event.padThicknessMm[position as PadPosition];
    if (measured !== undefined) add(measured);
    driven += event.daysAfter;
  }
  add(todayMm);
  return readings;
}

function atEnd(input: FactInput, position: string): number | undefined {
  const today = numberAt(input, 'pad.thickness', { position });
  if (today === undefined) return undefined;
  const readings = padReadings(input.earlier, position, today);
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
  const pad = (wheel: string, side: string) => numberAt(input, 'pad.thickness', { position: `${wheel}.${side}` });
  const differences = SIDES.map((side) => {
    const [one, other] = [pad(left, side), pad(right, side)];
    return one === undefined || other === undefined ? undefined : Math.abs(one - other);
  });
  // one place that is not known may hold the difference: then it is not known either
  return differences.every((one) => one !== undefined) ? roundTo(Math.max(...differences), 1) : undefined;
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
  padAxleDifference: {
    type: { kind: 'quantity', unit: 'mm', decimals: 1 },
    scheme: 'axle',
    meaning: 'the largest difference between the pads at the same place, left and right',
    source: 'common practice, no source',
    items: ['pad.thickness'],
    compute: axleDifference,
  },
} as const satisfies Readonly<Record<string, Fact>>;
