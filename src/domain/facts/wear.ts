import { daysBetween } from '../calendar.ts';
import { POSITION_KEYS, WHEELS } from '../catalogue/item.ts';
import { roundTo } from '../quantity.ts';
import type { PadReading } from '../trade/brakes/pad-forecast-wear.ts';
import { forecastPad } from '../trade/brakes/pad-forecast.ts';
import { axleOf, type EarlierEvent, type Fact, type FactInput, numberAt, ownNumberAt } from './fact.ts';

type PadPosition = keyof EarlierEvent['padThicknessMm'];

/**
 * Readings of two people, or of one on two days, differ by this much, mm: two expanded uncertainties of a gauge (root of the
 * sum of squares) and the tenth they are rounded to. Common practice, no source.
 */
const READINGS_DIFFER_MM = 0.6;

/** A reading of one part with where it is from. */
export interface PadSource extends PadReading {
  on: string;
  /** `log`: written down between sessions; `now`: declared or measured for this event */
  from: 'event' | 'log' | 'now';
  session?: string | undefined;
}

/** What was read, and whether somebody said that it is of new ones. */
type Read = Omit<PadSource, 'sessions' | 'padsChanged'> & { renewed?: boolean | undefined };

/**
 * Thicker than before: the pads were changed, although nobody said so. A log has many readings, so that one may be a little
 * more than the one before by the gauge alone: then no less than before is left, and no more.
 */
function toReading({ renewed, ...read }: Read, sessions: number, before: PadSource | undefined): PadSource {
  const grown = before === undefined ? 0 : read.thicknessMm - before.thicknessMm;
  const isLogged = read.from === 'log' || before?.from === 'log';
  if (renewed !== true && before !== undefined && isLogged && grown > 0 && grown <= READINGS_DIFFER_MM)
    return { ...read, thicknessMm: before.thicknessMm, sessions };
  const padsChanged = before !== undefined && (renewed === true || grown > 0);
  return { ...read, sessions, ...(padsChanged && { padsChanged }) };
}

/** What was measured of a part at an event, or written down there between sessions; undefined where it was not. */
type Measured = (read: Pick<EarlierEvent, 'padThicknessMm' | 'treadMm'>) => number | undefined;

/** A part that wears, and what of an event is compared with its value today. */
export interface Part {
  position: string;
  measured: Measured;
}

/** The readings at one event, with the days driven there until then. */
function readingsAt(event: EarlierEvent, { measured, position }: Part): { driven: number; read: Read }[] {
  const own = measured(event);
  const accepted = own === undefined ? [] : [{ driven: event.daysBefore, read: eventRead(event, own) }];
  const logged = (event.logged ?? []).flatMap((entry) => {
    const { driven, on, session, renewed } = entry;
    const thicknessMm = measured(entry);
    if (thicknessMm === undefined) return [];
    const isNew = renewed?.some((at) => at === axleOf(position) || at === position.split('.')[0]);
    return [{ driven, read: { thicknessMm, on, session, renewed: isNew, from: 'log' as const } }];
  });
  return [...accepted, ...logged].toSorted((a, b) => a.driven - b.driven);
}

const eventRead = ({ startsOn }: EarlierEvent, thicknessMm: number): Read => ({
  thicknessMm,
  on: startsOn,
  from: 'event',
});

/**
 * The readings of one pad or tyre, mm over days driven counted on, oldest first, today's last. Two readings between which the
 * car was not driven are one: the later.
 *
 * @param today what is known now, and the day of it
 */
export function wearReadings(
  earlier: readonly EarlierEvent[],
  part: Part,
  today: { thicknessMm: number; on: string },
): PadSource[] {
  const readings: PadSource[] = [];
  let base = 0;
  const add = (read: Read, driven: number): void => {
    const last = readings.at(-1);
    const isNew = last?.sessions === driven && last.padsChanged === true && read.thicknessMm <= last.thicknessMm;
    if (last?.sessions === driven) readings.pop();
    readings.push(toReading(isNew ? { ...read, renewed: true } : read, driven, readings.at(-1)));
  };
  for (const event of earlier) {
    for (const { driven, read } of readingsAt(event, part)) add(read, base + driven);
    base += event.daysBefore + event.daysAfter;
  }
  add({ ...today, from: 'now' }, base);
  return readings;
}

/** The pad itself. The position is one of pad.thickness, whose positions are keys of the record. */
const ofPad =
  (position: string): Measured =>
  ({ padThicknessMm: pads }) =>
    pads[position as PadPosition];

/**
 * The pad itself; of one that is the least of its axle now, the least that was written down where no more was: between sessions
 * people look at the thinnest only.
 */
function ofPadOnCar(input: FactInput, position: string, thicknessMm: number): Measured {
  const axle = axleOf(position);
  const others = POSITION_KEYS['wheel-side'].filter((one) => one !== position && axleOf(one) === axle);
  const isLowest = others.every((one) => {
    const other = input.given('pad.thickness', { position: one });
    return typeof other !== 'number' || other >= thicknessMm;
  });
  return isLowest ? (read) => ofPad(position)(read) ?? read.padThicknessMm[axle] : ofPad(position);
}

/** The lowest of the axle: as it was given, else the least of its pads. */
const lowestOfAxle =
  (axle: 'front' | 'rear'): Measured =>
  ({ padThicknessMm: pads }) => {
    const own = POSITION_KEYS['wheel-side'].filter((position) => axleOf(position) === axle);
    const known = [pads[axle], ...own.map((position) => pads[position])].filter((pad) => pad !== undefined);
    return known.length === 0 ? undefined : Math.min(...known);
  };

/** All readings of the pad that a forecast goes by; undefined where nothing is known now. */
function readingsOf(input: FactInput, position: string): PadSource[] | undefined {
  const thicknessMm = numberAt(input, 'pad.thickness', { position });
  if (thicknessMm === undefined) return undefined;
  // the lowest of an axle is compared with the lowest of it before, whichever pad that was
  const isOwn = ownNumberAt(input, 'pad.thickness', position) !== undefined;
  const measured = isOwn ? ofPadOnCar(input, position, thicknessMm) : lowestOfAxle(axleOf(position));
  return wearReadings(input.earlier, { position, measured }, { thicknessMm, on: input.event.startsOn });
}

/** Days of this event that are still to be driven: those that the log has behind them are over. */
function daysToCome({ event, earlier }: FactInput): number {
  const days = daysBetween(event.startsOn, event.endsOn) + 1;
  const own = earlier.find(({ endsOn }) => endsOn >= event.startsOn);
  return Math.max(0, days - (own?.daysAfter ?? 0));
}

function atEnd(input: FactInput, position: string): number | undefined {
  const readings = readingsOf(input, position);
  if (readings === undefined) return undefined;
  const forecast = forecastPad(readings, { sessionsToCome: daysToCome(input) });
  const says = `No two measurements of the same pads at ${position}, with days driven between them, are known from earlier events`;
  return input.need(forecast && roundTo(forecast.endThicknessMm, 1), says);
}

const SOURCES = { event: 'at the acceptance', log: 'written down between sessions', now: 'now' } as const;

/** The readings of the set that is on the car, oldest first, and what is still to be driven. */
function restsOn(input: FactInput, position: string): string[] {
  const readings = readingsOf(input, position) ?? [];
  const set = readings.slice(
    Math.max(
      0,
      readings.findLastIndex(({ padsChanged }) => padsChanged === true),
    ),
  );
  const lines = set.map(({ thicknessMm, on, from, session, sessions, padsChanged }) => {
    const after = session === undefined ? '' : `, after ${session}`;
    const isNew = padsChanged === true ? ', new pads' : '';
    return `${thicknessMm} mm ${SOURCES[from]}, ${on}${after}${isNew}: ${roundTo(sessions, 2)} days driven`;
  });
  return [...lines, `${roundTo(daysToCome(input), 2)} days to come`];
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
    meaning:
      'the friction material left at the end of the event, as it has worn at earlier events and between sessions',
    source: 'pad-forecast: wear per event day of the same pads, common practice',
    items: ['pad.thickness'],
    compute: atEnd,
    restsOn,
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
