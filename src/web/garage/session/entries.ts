import type { Unit } from '../../../domain/quantity.ts';
import type { LogEntryInput } from '../../api/operations.ts';
import { readQuantity } from '../../shared/units.ts';

/** Symptoms with which nobody drives on: each stops the car (the server says so too). */
export const STOPS = [
  'smell-of-fuel',
  'smell-of-burning',
  'long-pedal-after-laps',
  'weak-brakes-when-cold',
  'pulls-under-braking',
  'temperature-rising',
  'oil-pressure-drops-in-corners',
] as const;
/** What is looked at before the next session, or noted. */
export const LOOKS = [
  'vibration',
  'vibration-under-braking',
  'steps-out-under-power',
  'pushes-wide',
  'wanders',
  'knock-over-kerbs',
  'noise-in-corners',
  'hard-to-change-gear',
] as const;
export type Symptom = (typeof STOPS)[number] | (typeof LOOKS)[number];

/** Whether an entry of the log stops the car when the server has it. */
export const stopsCar = ({ symptoms = [] }: LogEntryInput): boolean =>
  symptoms.some((symptom) => (STOPS as readonly string[]).includes(symptom));

const WHEEL_NAMES = ['FL', 'FR', 'RL', 'RR'] as const;
export const AXLE_NAMES = ['front', 'rear'] as const;

/** What stands in the fields, as typed; an empty text is nothing. */
export interface Typed {
  session: string;
  hot: Readonly<Record<(typeof WHEEL_NAMES)[number], string>>;
  torque: string;
  /** all wheels are at the torque of the car, and had cooled */
  asRecorded: boolean;
  cooled: boolean;
  pads: Readonly<Record<(typeof AXLE_NAMES)[number], string>>;
  /** axles with new pads */
  newPads: readonly (typeof AXLE_NAMES)[number][];
  laps: string;
  /** `1:41.4`, or seconds */
  bestLap: string;
  symptoms: readonly Symptom[];
  note: string;
}

export const NOTHING: Typed = {
  session: '1',
  hot: { FL: '', FR: '', RL: '', RR: '' },
  torque: '',
  asRecorded: false,
  cooled: false,
  pads: { front: '', rear: '' },
  newPads: [],
  laps: '',
  bestLap: '',
  symptoms: [],
  note: '',
};

/** The fields by their names, as `unreadable` tells them. */
export type FieldName = `hot.${string}` | `pads.${string}` | 'torque' | 'laps' | 'bestLap';

interface Units {
  pressure: Unit;
  length: Unit;
  torque: Unit;
}

interface Made {
  bodies: LogEntryInput[];
  /** fields with a text that is no such value: nothing is written before they are right */
  unreadable: FieldName[];
}

/** The entries of the log that the fields come to: each kind on its own, what stops the car first. */
export function entriesOf(typed: Typed, units: Units, car: { torqueNm: number | undefined }, at: string): Made {
  const unreadable: FieldName[] = [];
  const read = (name: FieldName, text: string, unit: Unit): { value: number; unit: Unit } | undefined => {
    if (text.trim() === '') return undefined;
    const quantity = readQuantity(text, unit);
    if (quantity === undefined) unreadable.push(name);
    return quantity;
  };
  const placed = <K extends string>(fields: Readonly<Record<K, string>>, name: 'hot' | 'pads', unit: Unit) =>
    (Object.entries(fields) as [K, string][]).flatMap(([place, text]) => {
      const quantity = read(`${name}.${place}`, text, unit);
      return quantity === undefined ? [] : [[place, quantity] as const];
    });
  const hot = placed(typed.hot, 'hot', units.pressure);
  const pads = placed(typed.pads, 'pads', units.length);
  const torque =
    typed.asRecorded && car.torqueNm !== undefined
      ? { value: car.torqueNm, unit: 'N·m' as Unit }
      : read('torque', typed.torque, units.torque);
  const of = { session: typed.session.trim() === '' ? undefined : typed.session.trim(), at };
  const bodies: LogEntryInput[] = [];
  if (typed.symptoms.length > 0) bodies.push({ ...of, kind: 'symptom', symptoms: typed.symptoms });
  if (torque !== undefined) {
    const wheelsCooled = typed.asRecorded || typed.cooled;
    bodies.push({ ...of, kind: 'torque', values: { 'wheel.torque-setting': torque }, wheelsCooled });
  }
  if (hot.length > 0)
    bodies.push({ ...of, kind: 'pressures', values: { 'tyre.hot-pressure': Object.fromEntries(hot) } });
  if (pads.length > 0) {
    const lowest = pads.map(([axle, value]) => [axle, { basis: 'lowest-of-axle', value }]);
    const renewed = typed.newPads.filter((axle) => pads.some(([at]) => at === axle));
    const isNew = renewed.length === 0 ? {} : { renewed };
    bodies.push({ ...of, kind: 'pads', values: { 'pad.thickness': Object.fromEntries(lowest) }, ...isNew });
  }
  const driven = lapsOf(typed, (name) => unreadable.push(name));
  if (driven !== undefined) bodies.push({ ...of, kind: 'laps', ...driven });
  if (typed.note.trim() !== '') bodies.push({ ...of, kind: 'note', note: typed.note.trim() });
  return { bodies, unreadable };
}

/** Laps and the quickest of them, as far as they are typed. */
function lapsOf(
  { laps, bestLap }: Typed,
  refuse: (name: FieldName) => void,
): { laps?: number; bestLapSeconds?: number } | undefined {
  const count = /^\d{1,4}$/u.test(laps.trim()) ? Number(laps) : undefined;
  const seconds = readLap(bestLap);
  if (laps.trim() !== '' && count === undefined) refuse('laps');
  if (bestLap.trim() !== '' && seconds === undefined) refuse('bestLap');
  if (count === undefined && seconds === undefined) return undefined;
  return { ...(count !== undefined && { laps: count }), ...(seconds !== undefined && { bestLapSeconds: seconds }) };
}

/** A lap as people type it, in seconds: `1:41.4`, `1:41,4`, `101.4`. */
function readLap(text: string): number | undefined {
  const match = /^(?:(\d{1,2}):)?(\d{1,3}(?:[.,]\d{1,3})?)$/u.exec(text.trim());
  if (match?.[2] === undefined) return undefined;
  const seconds = Number(match[2].replace(',', '.'));
  if (match[1] !== undefined && seconds >= 60) return undefined;
  const all = Math.round((Number(match[1] ?? 0) * 60 + seconds) * 1000) / 1000;
  return all < 1 ? undefined : all;
}

const nameOf = (entryId: string): string => `gridworthy.session ${entryId}`;

/** What was typed and not written down yet: a reload in the paddock loses nothing. */
export function readTyped(entryId: string): Typed {
  try {
    const kept = JSON.parse(localStorage.getItem(nameOf(entryId)) ?? '{}') as Partial<Typed>;
    return { ...NOTHING, ...kept };
  } catch {
    // Not ours, or storage is closed: the fields begin empty.
    return NOTHING;
  }
}

export function keepTyped(entryId: string, typed: Typed): void {
  try {
    localStorage.setItem(nameOf(entryId), JSON.stringify(typed));
  } catch {
    // Full or blocked storage: it is on the screen, and written down it goes on its own way.
  }
}
