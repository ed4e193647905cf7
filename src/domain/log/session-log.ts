import { epochMs, type Instant } from '../calendar.ts';
import type { HoldKind } from '../clearance/inspect-again.ts';
import { type Answers, cellKey, parseCellKey } from '../declaration/declaration.ts';
import { POSITION_KEYS } from '../catalogue/item.ts';
import { SYMPTOMS } from '../trade/line/symptom-triage-table.ts';
import type { Vehicle } from '../vehicle.ts';

/** What can be written down after a session. */
export const LOG_KINDS = ['pressures', 'torque', 'pads', 'tread', 'laps', 'temperatures', 'symptom', 'note'] as const;
export type LogKind = (typeof LOG_KINDS)[number];

/** The catalogue items whose values a kind takes. */
export const LOG_ITEMS: Readonly<Record<LogKind, readonly string[]>> = {
  pressures: ['tyre.hot-pressure', 'tyre.cold-pressure'],
  torque: ['wheel.torque-setting', 'wheel.torque'],
  pads: ['pad.thickness', 'rotor.thickness'],
  tread: ['tyre.kind', 'tyre.tread-lowest', 'tyre.tread', 'tyre.wear-holes'],
  laps: [],
  temperatures: [],
  symptom: [],
  note: [],
};

/** A key of `SYMPTOMS`, which the table of symptoms names. */
export type SymptomName = string;
export const SYMPTOM_NAMES = Object.keys(SYMPTOMS) as [SymptomName, ...SymptomName[]]; // the table is never empty

/** What is written, as far as its kind decides about it. */
export interface LogContent {
  kind: LogKind;
  /** cells of catalogue items, by cell */
  cells: Answers;
  laps?: number | undefined;
  bestLapSeconds?: number | undefined;
  temperatures?: readonly unknown[] | undefined;
  symptoms?: readonly SymptomName[] | undefined;
  wheelsCooled?: boolean | undefined;
  renewed?: readonly string[] | undefined;
  note?: string | undefined;
}

/** What is wrong with an entry; `pointer` is a JSON Pointer into it. */
export interface LogFault {
  pointer: string;
  code: 'missing' | 'not-of-this-kind';
  detail: string;
}

const OWN_FIELD: Readonly<Record<LogKind, 'values' | 'laps' | 'temperatures' | 'symptoms' | 'note'>> = {
  pressures: 'values',
  torque: 'values',
  pads: 'values',
  tread: 'values',
  laps: 'laps',
  temperatures: 'temperatures',
  symptom: 'symptoms',
  note: 'note',
};

/** What a kind may have beside its own field. */
const FIELDS_BESIDE: Partial<Readonly<Record<LogKind, readonly string[]>>> = {
  laps: ['bestLapSeconds'],
  torque: ['wheelsCooled'],
  pads: ['renewed'],
  tread: ['renewed'],
};

const GIVEN = [
  'values',
  'laps',
  'bestLapSeconds',
  'temperatures',
  'symptoms',
  'wheelsCooled',
  'renewed',
] as const satisfies readonly (keyof LogContent | 'values')[];

/** Whether a field was given; an empty list is nothing. */
function isGiven(content: LogContent, name: (typeof GIVEN)[number] | 'note'): boolean {
  if (name === 'values') return content.cells.size > 0;
  const value = content[name];
  return Array.isArray(value) ? value.length > 0 : value !== undefined;
}

/** What is missing for its kind, and what does not belong to it: nothing that was typed is dropped in silence. */
export function logFaults(content: LogContent): LogFault[] {
  const { kind, cells } = content;
  const own = OWN_FIELD[kind];
  // a lap that was timed was driven, however many there were
  const isThere = isGiven(content, own) || (kind === 'laps' && isGiven(content, 'bestLapSeconds'));
  const faults: LogFault[] = isThere
    ? []
    : [{ pointer: `/${own}`, code: 'missing', detail: `An entry of kind ${kind} needs it.` }];
  for (const name of GIVEN) {
    const fits = name === own || (FIELDS_BESIDE[kind] ?? []).includes(name);
    if (isGiven(content, name) && !fits) faults.push(notOfThisKind(`/${name}`, kind));
  }
  if (own !== 'values') return faults;
  const others = [...new Set([...cells.keys()].map((cell) => parseCellKey(cell).key))].filter(
    (key) => !LOG_ITEMS[kind].includes(key),
  );
  return [...faults, ...others.map((key) => notOfThisKind(`/values/${key}`, kind))];
}

const notOfThisKind = (pointer: string, kind: LogKind): LogFault => ({
  pointer,
  code: 'not-of-this-kind',
  detail: `Does not belong to an entry of kind ${kind}; write it in one of its own.`,
});

/** Symptoms with which a car is not driven before the cause is found (`SYMPTOMS`, common practice). */
export function stopSymptoms(symptoms: readonly SymptomName[]): SymptomName[] {
  return symptoms.filter((name) => SYMPTOMS[name]?.urgency === 'stop');
}

/** What must be looked at before the hold is lifted that such a symptom places. */
const HOLD_KIND: Partial<Readonly<Record<SymptomName, HoldKind>>> = {
  'smell-of-fuel': 'leak',
  'smell-of-burning': 'smoke',
};

export const holdKindOf = (symptoms: readonly SymptomName[]): HoldKind =>
  symptoms.map((name) => HOLD_KIND[name]).find((kind) => kind !== undefined) ?? 'other';

/** The reason of that hold, as a marshal reads it. */
export const holdReasonOf = (symptoms: readonly SymptomName[]): string =>
  `After a session: ${symptoms.map((name) => name.replaceAll('-', ' ')).join(', ')}`;

/** When the wheel fasteners are to be checked again: from when on it counts, and by when it must be done. */
export interface TorqueRecheck {
  of: 'torque';
  from: Instant;
  /** `from` and the due time are the timetable's, and move with it; absent: somebody named the due time */
  byTimetable?: true | undefined;
}

/** How far from the maker's torque is right where he names no tolerance, as a share of it. Common practice, no source. */
const TOLERANCE_SHARE = 0.1;

export interface TorqueEntry {
  cells: Answers;
  at: Date;
  wheelsCooled: boolean;
}

/**
 * Why a torque that was written down does not settle the check that was asked for; undefined when it does: for all wheels,
 * at the maker's torque where that is known, cooled, and after the session.
 */
export function torqueUnsettled(
  { cells, at, wheelsCooled }: TorqueEntry,
  { from }: TorqueRecheck,
  vehicle: Vehicle,
): string | undefined {
  if (at.getTime() < epochMs(from))
    return 'It was set before the session that it is asked for: check again after the session, once the wheels have cooled.';
  if (!wheelsCooled) return 'Say that the wheels have cooled: on hot wheels a wrench clicks too early or too late.';
  const torques = torquesOf(cells);
  if (torques === undefined) return 'Give the torque of all four wheels, or what the wrench was set to for all.';
  const { wheelNutTorqueNm: wanted, wheelNutTorqueToleranceNm } = vehicle;
  if (wanted === undefined) return undefined;
  const tolerance = wheelNutTorqueToleranceNm ?? wanted * TOLERANCE_SHARE;
  if (torques.every((torque) => Math.abs(torque - wanted) <= tolerance)) return undefined;
  return `The maker asks for ${wanted} N·m, give or take ${tolerance}.`;
}

/** N·m of each wheel, or of all at once. */
function torquesOf(cells: Answers): number[] | undefined {
  const all = cells.get(cellKey('wheel.torque-setting'));
  if (typeof all === 'number') return [all];
  const each = POSITION_KEYS.wheel.map((wheel) => cells.get(cellKey('wheel.torque', wheel)));
  return each.every((torque) => typeof torque === 'number') ? each : undefined;
}
