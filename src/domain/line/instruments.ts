import { findItem } from '../catalogue/catalogue.ts';
import type { Item, SimpleAnswerType } from '../catalogue/item.ts';
import type { AnswerValue } from '../declaration/read-answer.ts';
import { convertDifference, parseUnit, roundTo, type Unit } from '../quantity.ts';

type NumberType = Extract<SimpleAnswerType, { kind: 'number' }>;

/** What an instrument of an organizer reads: the items of the line that one such instrument is for, all in one dimension. */
export const READS = {
  pads: ['pad.thickness', 'lining.thickness'],
  tread: ['tyre.tread-lowest', 'tyre.tread'],
  rotors: ['rotor.thickness'],
  drums: ['drum.diameter'],
  'brake-fluid': ['brake-fluid.measured-boiling-point'],
  torque: ['wheel.torque', 'wheel.torque-setting'],
  pressure: ['tyre.cold-pressure'],
  play: ['wheel-play.nine-three', 'wheel-play.twelve-six', 'steering.free-play', 'bushing.play'],
  runout: ['wheel.bent'],
  sound: ['exhaust.sound-level'],
} as const satisfies Readonly<Record<string, readonly string[]>>;
export type Reads = keyof typeof READS;
export const READS_NAMES = Object.keys(READS) as [Reads, ...Reads[]]; // the table is never empty

/** An instrument of an organizer, as the line may choose it. */
export interface NamedInstrument {
  /** what stands on it: `depth gauge 3` */
  name: string;
  reads: Reads;
  /** expanded uncertainty U for a coverage factor k of 2, in `unit` */
  uncertainty: number;
  unit: string;
  /** where U is from: a certificate, its date */
  source?: string | undefined;
}

/** What a value at the line was read with; kept beside the value for good, whatever becomes of the organizer's list. */
export interface ReadWith {
  name: string;
  /** U (k = 2) in `unit` */
  uncertainty: number;
  unit: string;
  /** whose word U is: the organizer's list, or the inspector's own */
  by: 'event' | 'inspector';
}

const numbersOf = ({ answer }: Item): NumberType[] => {
  const types = answer.kind === 'fields' ? Object.values(answer.fields).map(({ type }) => type) : [answer];
  return types.filter((type) => type.kind === 'number');
};

/** U in a unit of an item, for differences: 9 °F are 5 °C; undefined where it is of another dimension, or no unit. */
export function uncertaintyIn(unit: Unit, of: { uncertainty: number; unit: string }): number | undefined {
  const from = parseUnit(of.unit);
  const converted = from && convertDifference(of.uncertainty, from, unit);
  // decimals beyond any reading: only the noise of converting falls away
  return converted === undefined ? undefined : roundTo(converted, 6);
}

/** Whether an uncertainty in this unit says something of a number of the item. */
export function unitFits(itemKey: string, unit: string): boolean {
  const item = findItem(itemKey);
  return (
    item !== undefined &&
    numbersOf(item).some((type) => uncertaintyIn(type.unit, { uncertainty: 1, unit }) !== undefined)
  );
}

/** What is wrong with a list of instruments; `at` are the steps into it. */
export function instrumentFaults(list: readonly NamedInstrument[]): { at: readonly string[]; detail: string }[] {
  return list.flatMap(({ name, reads, unit }, index) => {
    const step = `${index}`;
    const twice = list.findIndex((one) => one.reads === reads && sameName(one.name, name)) !== index;
    const faults = twice
      ? [{ at: [step, 'name'], detail: `There is one "${name}" for this already; give each its own name.` }]
      : [];
    if (READS[reads].every((key) => unitFits(key, unit))) return faults;
    return [...faults, { at: [step, 'unit'], detail: `${JSON.stringify(unit)} is no unit of what it reads.` }];
  });
}

export const sameName = (one: string, other: string): boolean =>
  one.trim().toLowerCase() === other.trim().toLowerCase();

/** The instruments of a list that read an item. */
export const instrumentsFor = (list: readonly NamedInstrument[], itemKey: string): NamedInstrument[] =>
  list.filter(({ reads }) => (READS[reads] as readonly string[]).includes(itemKey));

/** The name under which measured answers keep what a place was read with: no cell of the catalogue ends so. */
export const readWithName = (place: string): string => `${place.split('#')[0]}^`;

/** Keeps what a place was read with beside its value. */
export function keepReadWith(to: Map<string, AnswerValue>, place: string, readWith: ReadWith): void {
  to.set(readWithName(place), [readWith.name, String(readWith.uncertainty), readWith.unit, readWith.by]);
}

/** What the measured value at a cell was read with; undefined: nobody said, so by what such values are usually read with. */
export function readWithAt(measured: ReadonlyMap<string, AnswerValue>, cell: string): ReadWith | undefined {
  return toReadWith(measured.get(readWithName(cell)));
}

/** What `keepReadWith` kept. */
export function toReadWith(kept: AnswerValue | undefined): ReadWith | undefined {
  if (!Array.isArray(kept)) return undefined;
  const [name = '', uncertainty, unit = '', by] = kept as readonly string[];
  return { name, uncertainty: Number(uncertainty), unit, by: by === 'event' ? 'event' : 'inspector' };
}
