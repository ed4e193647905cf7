import { z } from 'zod';
import { isPlainDate } from '../calendar.ts';
import { POSITION_KEYS, type PositionScheme } from '../catalogue/item.ts';
import type { AnswerValue } from '../declaration/declaration.ts';
import type { CelType } from '../rules/cel/types.ts';
import type { EventDays, VenueFacts } from '../rules/model/rule-set.ts';
import type { Vehicle } from '../vehicle.ts';

const day = z.string().refine(isPlainDate, 'a date that exists, YYYY-MM-DD');
const days = z.int().min(0).max(366);

const treads = z.partialRecord(
  z.enum([...POSITION_KEYS['wheel-zone'], ...POSITION_KEYS.wheel]),
  z.number().min(0).max(40),
);
const pads = z.partialRecord(
  z.enum([...POSITION_KEYS['wheel-side'], ...POSITION_KEYS.axle]),
  z.number().min(0).max(40),
);

/** Where new pads or tyres are said to have been fitted. */
export const RENEWED_AT = [...POSITION_KEYS.axle, ...POSITION_KEYS.wheel] as const;

/** What was written down of a car between sessions. */
export const LoggedReading = z.strictObject({
  on: day.describe('When it was measured'),
  session: z.string().max(60).optional().describe('After which session, in the words of whoever wrote it'),
  driven: z.number().min(0).max(366).describe('Event days driven there until then'),
  padThicknessMm: pads.describe('Friction material, mm; at an axle: the lowest of it'),
  treadMm: z.partialRecord(z.enum(POSITION_KEYS.wheel), z.number().min(0).max(40)).describe('Lowest of each tyre, mm'),
  renewed: z.array(z.enum(RENEWED_AT)).optional().describe('Where new ones were fitted: these are their first values'),
});
export type LoggedReading = z.infer<typeof LoggedReading>;

/** What is known of a car from an earlier event at which it was accepted: the newest measurements and the days driven. */
export const EarlierEvent = z.strictObject({
  startsOn: day.describe('First day of that event'),
  endsOn: day.describe('Its last day'),
  daysBefore: days.describe('Days it was driven there before the pads were measured'),
  daysAfter: z.number().min(0).max(366).describe('Days it was driven there afterwards'),
  padThicknessMm: pads.describe('Friction material as measured, else as declared, mm; at an axle: the lowest of it'),
  treadMm: treads.optional().describe('Tread as measured, else as declared, mm; at a wheel: the lowest of the tyre'),
  logged: z.array(LoggedReading).max(400).optional().describe('Between sessions, oldest first'),
});
export type EarlierEvent = z.infer<typeof EarlierEvent>;

/**
 * What a fact is derived from. Readers note what they do not find, so that a rule without an answer can say what is
 * missing; a fact must therefore read only what it needs.
 */
export interface FactInput {
  readonly vehicle: Vehicle;
  readonly venue: VenueFacts;
  /** first and last day, plain dates at the venue */
  readonly event: EventDays;
  /** earlier events of the same car, oldest first; the last may be the event itself, with what was logged there */
  readonly earlier: readonly EarlierEvent[];
  /** an answer in its item's unit; what an inspector measured wins, what only he answers is not taken from the entrant */
  answer(key: string, at?: { position?: string | undefined; field?: string }): AnswerValue | undefined;
  /** the same of exactly this place: a value that stands for several places, as the lowest of an axle, is none */
  own(key: string, at?: { position?: string | undefined; field?: string }): AnswerValue | undefined;
  /** the same of exactly this place where it is given: it is never missing, and nobody is asked for it */
  given(key: string, at?: { position?: string | undefined; field?: string }): AnswerValue | undefined;
  /** whether the line gave a value of exactly this place */
  atLine(key: string, at?: { position?: string | undefined; field?: string }): boolean;
  /** whether the entrant said that there is no answer at exactly this place */
  saidNone(key: string, at?: { position?: string | undefined }): boolean;
  /**
   * the value as it is; notes `says` when there is none
   *
   * @param of the path of a fact of the car, or `record` for the venue's record: nobody who declares can mend them
   */
  need<T>(value: T | undefined, says: string, of?: 'record' | (string & {})): T | undefined;
}

/** A value that is worked out from answers and records, and that expressions read as `facts.<name>`. */
export interface Fact {
  type: CelType;
  /** one value per position of this scheme; absent: one for the car */
  scheme?: PositionScheme;
  /** what it is, as it stands in a sentence: `the age of the tyre` */
  meaning: string;
  /** where the computation comes from */
  source: string;
  /** catalogue items that it reads; a rule that reads the fact lists them */
  items: readonly string[];
  /**
   * Pure. `undefined` where it cannot be known, also when it throws: such a value never meets a rule.
   *
   * @param position of the scheme; `''` for a fact of the whole car
   */
  compute(input: FactInput, position: string): AnswerValue | undefined;
  /** what it was worked out from beside the answers, a line each, for whoever asks why */
  restsOn?(input: FactInput, position: string): readonly string[];
}

/** A number answer; `undefined` where it is not known. */
export function numberAt(
  input: FactInput,
  key: string,
  at: { position?: string | undefined; field?: string } = {},
): number | undefined {
  const value = input.answer(key, at);
  return typeof value === 'number' ? value : undefined;
}

/** A number that was read at exactly this place; `undefined` where it is not known. */
export function ownNumberAt(input: FactInput, key: string, position: string): number | undefined {
  const value = input.own(key, { position });
  return typeof value === 'number' ? value : undefined;
}

/** A text, choice or date answer; `undefined` where it is not known. */
export function textAt(
  input: FactInput,
  key: string,
  at: { position?: string | undefined; field?: string } = {},
): string | undefined {
  const value = input.answer(key, at);
  return typeof value === 'string' ? value : undefined;
}

/** The axle of a wheel, or of a place at a wheel: `FL.in` is at the front. */
export const axleOf = (position: string): 'front' | 'rear' => (position.startsWith('F') ? 'front' : 'rear');
