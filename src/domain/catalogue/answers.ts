import { roundTo, standardFromLimitOfError, type Unit } from '../quantity.ts';
import type { AnswerType, Area, Item, PrintedForm, SimpleAnswerType, Uncertainty } from './item.ts';

type NumberType = Extract<SimpleAnswerType, { kind: 'number' }>;
type ChoiceType = Extract<SimpleAnswerType, { kind: 'choice' }>;
type TextType = Extract<SimpleAnswerType, { kind: 'text' }>;
type FieldsType = Extract<AnswerType, { kind: 'fields' }>;
type Field = FieldsType['fields'][string];

/**
 * A number in its canonical unit; `range` is what is possible, not what is good, both ends included. `plausible` is what such
 * a value usually is, `uncertainty` how good a reading is.
 */
export function number(
  unit: Unit,
  range: readonly [min: number, max: number],
  decimals: number,
  reading: Pick<NumberType, 'plausible' | 'uncertainty'> = {},
): NumberType {
  return { kind: 'number', unit, min: range[0], max: range[1], decimals, ...reading };
}

/** One of the options. */
export function choice(...options: readonly string[]): ChoiceType {
  return { kind: 'choice', options };
}

/** Any number of the options, also none. */
export function choices(...options: readonly string[]): Extract<SimpleAnswerType, { kind: 'choices' }> {
  return { kind: 'choices', options };
}

/** Text of at least one character; `pattern` (a regular expression source) must match all of it. */
export function text(maxLength: number, pattern?: { source: string; says: string }): TextType {
  return { kind: 'text', maxLength, ...(pattern && { pattern }) };
}

/** A text as it is printed on a label or sidewall; `pattern` is that of the form it is kept in. */
export function printed(asPrinted: PrintedForm, pattern?: { source: string; says: string }): TextType {
  return { ...text(40, pattern), asPrinted };
}

export const CONFIRM: Extract<SimpleAnswerType, { kind: 'confirm' }> = { kind: 'confirm' };
export const YES_NO: Extract<SimpleAnswerType, { kind: 'yes-no' }> = { kind: 'yes-no' };
export const DATE: Extract<SimpleAnswerType, { kind: 'date' }> = { kind: 'date' };

/** A part of a composite answer that must be given with it. */
export function required(label: string, type: SimpleAnswerType): Field {
  return { type, required: true, label };
}

/** A part of a composite answer that may be left out. */
export function optional(label: string, type: SimpleAnswerType): Field {
  return { type, required: false, label };
}

/** A composite answer: each field is a cell of its own. */
export function fields(parts: Readonly<Record<string, Field>>): FieldsType {
  return { kind: 'fields', fields: parts };
}

/**
 * A fluid's level and why it is not right: a low level is a symptom, and its cause must be known. Rules read the reason
 * that was chosen; what somebody writes beside it explains, and decides nothing.
 */
export function fluidLevel(levels: readonly string[], reasons: readonly string[]): FieldsType {
  return fields({
    level: required('Level', choice(...levels)),
    reason: optional('If it is not right: why', choice(...reasons)),
    cause: optional('What you found, in your own words', text(200)),
  });
}

/** Gives every item of a file its area. */
export function itemsOf(area: Area, items: readonly Omit<Item, 'area'>[]): readonly Item[] {
  return items.map((item) => ({ ...item, area }));
}

/** U (k = 2) of an instrument whose limit of error is known and nothing else: twice MPE / √3. */
const fromLimitOfError = (limitOfError: number, decimals: number): number =>
  roundTo(2 * standardFromLimitOfError(limitOfError), decimals);

/** What people read such values with, and how far a reading may be off. Rounded to the decimals of the items. */
export const READ_WITH = {
  padGauge: {
    expanded: fromLimitOfError(0.5, 1),
    instrument: 'pad gauge in steps of 1 mm',
    source: 'derived: half a step as limit of error, rectangular',
  },
  treadGauge: {
    expanded: 0.2,
    instrument: 'tread depth gauge',
    source: 'derived: resolution 0.1, zero 0.05, operator 0.1 mm; published spreads go from 0.05 to 1 mm',
  },
  vernier: {
    expanded: fromLimitOfError(0.05, 2),
    instrument: 'vernier calliper',
    source: 'limit of error 50 µm, DIN 862 (secondary), rectangular',
  },
  vernierInside: {
    expanded: fromLimitOfError(0.07, 2),
    instrument: 'vernier calliper, inside',
    source: 'limit of error 50 µm and 20 µm more for inside measurements, DIN 862 (secondary), rectangular',
  },
  boilTester: {
    expanded: fromLimitOfError(2.8, 0),
    instrument: 'boiling point tester',
    source: 'limit of error 5 °F as stated for a refractometer (secondary), rectangular',
  },
} as const satisfies Record<string, Uncertainty>;
