import type { Unit } from '../quantity.ts';
import type { CautionId } from '../cautions.ts';
import type { NoAnswerReason } from '../declaration/no-answer.ts';
import type { Vehicle } from '../vehicle.ts';

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

/** The axle of a place at a wheel: `FL.in` is at the front; `undefined` for other places. */
function axleOfWheel(position: string): 'front' | 'rear' | undefined {
  const [wheel] = position.split('.');
  if (wheel === 'FL' || wheel === 'FR') return 'front';
  return wheel === 'RL' || wheel === 'RR' ? 'rear' : undefined;
}

/** At the same place, within it or around it (`FL` and `FL.in`, `front` and `FL`); the whole car is near to every place. */
export function isNear(one: string | undefined, other: string | undefined): boolean {
  if (one === undefined || other === undefined || one === other) return true;
  if (one.startsWith(`${other}.`) || other.startsWith(`${one}.`)) return true;
  return axleOfWheel(one) === other || axleOfWheel(other) === one;
}

/** The four wheels, in the order every list of ours uses. */
export const WHEELS = ['FL', 'FR', 'RL', 'RR'] as const;
export type Wheel = (typeof WHEELS)[number];

/**
 * Where on the car an item is asked. `wheel-side` is the inner and outer pad of each wheel, `wheel-zone` three
 * places across each tread. A key `FL.in` belongs to wheel `FL`: a rule that runs per wheel sees both sides.
 */
export const POSITION_KEYS = {
  wheel: WHEELS,
  axle: ['front', 'rear'],
  'wheel-side': ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'],
  'wheel-zone': [
    'FL.inner',
    'FL.middle',
    'FL.outer',
    'FR.inner',
    'FR.middle',
    'FR.outer',
    'RL.inner',
    'RL.middle',
    'RL.outer',
    'RR.inner',
    'RR.middle',
    'RR.outer',
  ],
  bushing: [
    'front-upper-arm',
    'front-lower-arm',
    'front-anti-roll-bar',
    'rear-upper-arm',
    'rear-lower-arm',
    'rear-anti-roll-bar',
    'subframe',
    'differential-mount',
  ],
  strap: ['lap-left', 'lap-right', 'shoulder-left', 'shoulder-right', 'crotch'],
  fluid: ['engine-oil', 'coolant', 'fuel', 'brake-fluid', 'gearbox-oil', 'power-steering'],
} as const;

export type PositionScheme = keyof typeof POSITION_KEYS;

/** A text copied from a label or sidewall: spellings of one thing are kept in one form (`declaration/as-printed.ts`). */
export const PRINTED_FORMS = ['tyre-date-code', 'tyre-rating', 'oil-grade'] as const;
export type PrintedForm = (typeof PRINTED_FORMS)[number];

/** How good a reading is, by what it is usually read with; organizers and inspectors can name better ones. */
export interface Uncertainty {
  /** expanded uncertainty U for a coverage factor k of 2, canonical unit */
  expanded: number;
  /** what it is read with */
  instrument: string;
  /** where the number comes from, with its standing */
  source: string;
}

/** What a single answer may be; composite answers (`fields`) are made of these. */
export type SimpleAnswerType =
  | {
      kind: 'number';
      /** canonical unit: every stored and judged value is in it */
      unit: Unit;
      /** impossible below this (canonical unit); an answer outside is refused with 422, it is not a verdict */
      min: number;
      /** impossible above this (canonical unit) */
      max: number;
      /** decimals kept in the canonical unit; the value judged is the value shown */
      decimals: number;
      /** outside of this a value is likely a slip of the pen (canonical unit): the line measures it */
      plausible?: readonly [from: number, to: number];
      /** how far a reading may be from the truth */
      uncertainty?: Uncertainty;
    }
  /** `names`: what people read for the options, where they were put into words (`texts.ts`); the catalogue has none */
  | { kind: 'choice'; options: readonly string[]; names?: Readonly<Record<string, string>> }
  | { kind: 'choices'; options: readonly string[]; names?: Readonly<Record<string, string>> }
  | { kind: 'confirm' }
  | { kind: 'yes-no' }
  | { kind: 'date' }
  | { kind: 'text'; maxLength: number; pattern?: { source: string; says: string }; asPrinted?: PrintedForm };

/** `fields`: one answer made of named parts, for example a range with `low` and `high`. */
export type AnswerType =
  | SimpleAnswerType
  | { kind: 'fields'; fields: Readonly<Record<string, { type: SimpleAnswerType; required: boolean; label: string }>> };

/** `entrant` declares it, `inspector` measures it at the line, `both`: declared, then measured again. */
type AnsweredBy = 'entrant' | 'inspector' | 'both';

/**
 * The car's properties an item depends on. All given properties must hold. A property the vehicle record does not
 * state counts as holding: what is not known is asked, never skipped.
 */
export interface AppliesWhen {
  body?: readonly NonNullable<Vehicle['body']>[];
  powertrain?: readonly NonNullable<Vehicle['powertrain']>[];
  oilLevelMethod?: readonly NonNullable<Vehicle['oilLevelMethod']>[];
  gearbox?: readonly NonNullable<Vehicle['gearbox']>[];
  sump?: readonly NonNullable<Vehicle['sump']>[];
  restraint?: readonly NonNullable<Vehicle['restraint']>[];
  cooling?: readonly NonNullable<Vehicle['cooling']>[];
  wheelFastening?: readonly NonNullable<Vehicle['wheelFastening']>[];
  /** per axle: on a positioned item only the wheels of an axle that matches are asked */
  caliper?: 'fixed' | 'floating';
  rotor?: 'iron' | 'carbon';
  /** per axle: `disc` for rotors of any material */
  brake?: 'disc' | 'drum';
  /** per bushing location on a `bushing` item */
  bushing?: readonly ('rubber' | 'urethane' | 'spherical')[];
  rebuildableDampers?: boolean;
  clutchHydraulic?: boolean;
  separateDifferential?: boolean;
  fuelCell?: boolean;
}

/**
 * An item that has a meaning only once another one is answered so: where a weep goes is asked where there is a weep. At
 * a position both have, the answer there counts. It changes what is asked, never what is judged: rules say so themselves.
 */
interface AskedAfter {
  item: string;
  answers: readonly string[];
}

export interface Item {
  /** `area.thing.property`, stable for ever */
  key: string;
  area: Area;
  /** the question as the entrant reads it */
  label: string;
  /** how to look or measure, one or two sentences */
  help: string;
  answer: AnswerType;
  positions?: PositionScheme;
  answeredBy: AnsweredBy;
  appliesWhen?: AppliesWhen;
  /** asked only after another answer; absent: asked at once */
  askedAfter?: AskedAfter;
  /** the item that asks the same in less detail: where that one is asked, this one is optional and stands for it */
  detailOf?: string;
  /** its lowest value on an axle or a tyre may stand for the places there, said to be that: what wears, and is judged by its least */
  lowestOf?: 'axle' | 'wheel';
  /** reasons why it may not apply although the car's record does not say so; absent: it must be answered */
  doesNotApply?: readonly NoAnswerReason[];
  /** cautions of the task (`domain/cautions.ts`) */
  cautions?: readonly CautionId[];
}

export const AREAS = [
  'engine',
  'brake-hydraulics',
  'brake-hardware',
  'driveline',
  'suspension-steering',
  'wheels-tyres',
  'cooling',
  'body-safety',
  'electric',
  'setup',
  'papers',
] as const;
export type Area = (typeof AREAS)[number];

/**
 * Whether an item is asked by now: at once, or because the other item is answered with one of the answers it waits for.
 *
 * @param answer what the other item is answered with, at the same position where both have it
 */
export function isAskedByNow(after: AskedAfter | undefined, answer: unknown): boolean {
  if (after === undefined) return true;
  const chosen: readonly unknown[] = Array.isArray(answer) ? answer : [answer];
  return chosen.some((one) => typeof one === 'string' && after.answers.includes(one));
}
