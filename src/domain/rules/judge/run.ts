import type { Answers, AnswerValue } from '../../declaration/declaration.ts';
import type { EarlierEvent } from '../../facts/fact.ts';
import type { Vehicle } from '../../vehicle.ts';
import type { EventDays, ParameterOverride, VenueFacts, VenueName } from '../model/rule-set.ts';
import { noAnswerAt } from '../../declaration/no-answer.ts';
import type { CelReader } from '../cel/generate.ts';
import type { CelValue } from '../cel/types.ts';
import { readVehicle } from '../model/vehicle-fields.ts';

/** A concession in force: it downgrades the bar of exactly this rule to a look at the line. */
export interface ActiveConcession {
  ruleId: string;
  concessionId: string;
  /** instant, RFC 3339; shown only: the caller passes concessions that are in force */
  expiresAt: string;
  /** what it asks for; shown only */
  condition?: string | undefined;
}

/**
 * All that a judgement depends on. Values are not changed by judging and must not be changed while it runs.
 * Answers are in canonical units (`parseAnswers`), dates are plain dates at the venue.
 */
export interface JudgeInput {
  answers: Answers;
  /** the inspector's measurements: they win over what was declared */
  measured?: Answers;
  vehicle: Vehicle;
  event: EventDays;
  venue: VenueFacts;
  /** the run group's overrides by name; names the rule set does not have are ignored (`checkOverrides` refuses them) */
  parameters: Readonly<Record<string, ParameterOverride>>;
  concessions: readonly ActiveConcession[];
  /** paths of the car's facts that nobody confirmed: what rests on one of them is looked at; absent: none */
  unconfirmed?: readonly string[] | undefined;
  /** evidence photos per catalogue key */
  photos?: Readonly<Record<string, number>>;
  /** earlier events of the same car, oldest first; absent: none is known */
  earlier?: readonly EarlierEvent[] | undefined;
  /** `declaration`: items that only the inspector answers are not known yet; `line`: they must be */
  stage: 'declaration' | 'line';
}

/** An input that was needed and is not there; `says` names it for people. */
export interface Missing {
  says: string;
  /** only an inspector can give it: before the line it is not known yet */
  inspectorOnly: boolean;
  /** of an answer: where it would stand */
  cell?: string;
  /** a value of the car's or the venue's record: nobody who declares can give it, so the line looks */
  ofRecord?: true;
  /** of the car's record: the path of the fact */
  fact?: string;
}

/** The cells that a program reads, each with its slot on the sheet of a judgement. */
export type Slots = Map<string, number>;

/** The answers of one car at the slots of a program. Many rules read one answer; the sheet looks each up once. */
export type Sheet = readonly (AnswerValue | undefined)[];

/** Where a value is found in a judgement; made once per rule, position and kind of car. */
export type Place =
  | { k: 'value'; value: CelValue | undefined; says: string }
  | {
      k: 'answer';
      cell: string;
      /** `undefined` where no program is made: read by its cell */
      slot: number | undefined;
      inspectorOnly: boolean;
      says: string;
      /** where the lowest value around it stands, for items that have one; read where the place has no value of its own */
      lowest?: AnswerPlace | undefined;
    }
  | { k: 'vehicle'; path: readonly string[]; says: string }
  | { k: 'venue'; name: VenueName; says: string }
  | {
      k: 'fact';
      /** with the position, so that no two places have one name: `tyreAge@FL` */
      name: string;
      fact: string;
      position: string | undefined;
      derive(run: Run): CelValue | undefined;
      /** what it cannot be derived without; asked only when it was not */
      missing(run: Run): readonly Missing[];
      /** what it was worked out from beside the answers; told, never judged by */
      restsOn(run: Run): readonly string[];
    }
  | { k: 'map'; names: readonly string[]; entries: ReadonlyMap<string, Place> };

export type AnswerPlace = Extract<Place, { k: 'answer' }>;

/** A fact as a judgement derived it. */
export interface Derived {
  value: CelValue | undefined;
  source: 'declared' | 'measured' | undefined;
  /** facts of the car in doubt that it was derived from */
  doubts?: ReadonlySet<string> | undefined;
  /** cells that were looked for; absent where that was not noted when it was derived */
  touched?: ReadonlySet<string> | undefined;
}

/** One judgement under way. */
export interface Run {
  answers: Answers;
  measured: Answers | undefined;
  /** `answers` and `measured` once more, as places with a slot read them */
  sheet: Sheet | undefined;
  measuredSheet: Sheet | undefined;
  vehicle: Vehicle;
  venue: VenueFacts;
  earlier: readonly EarlierEvent[];
  /** facts that were read, by the name of their place: each is derived once */
  derived: Map<string, Derived>;
  photos: Readonly<Record<string, number>> | undefined;
  /** facts of the car that nobody confirmed and that the step under way has read; absent where all are confirmed */
  doubts: Set<string> | undefined;
  stage: JudgeInput['stage'];
  concessions: ReadonlyMap<string, ActiveConcession> | undefined;
  /** of the last answer read; `measured` stays until the next rule */
  source: 'declared' | 'measured' | undefined;
  /** whether the lowest value of an axle or a tyre is all that this group asks of what wears */
  lowestIsEnough: boolean;
  /** when set, what is not there is noted here */
  missing: Missing[] | undefined;
  /** when set, the cells of all answers that are looked for are noted here, given or not */
  touched: Set<string> | undefined;
}

/** Looks up each cell of a program once; the slot of a cell is its index. */
export function fillSheet(cells: readonly string[], answers: Answers): Sheet {
  return cells.map((cell) => answers.get(cell));
}

const at = (answers: Answers, sheet: Sheet | undefined, { cell, slot }: AnswerPlace): AnswerValue | undefined =>
  sheet === undefined || slot === undefined ? answers.get(cell) : sheet[slot];

/**
 * The answer of exactly this cell: what an inspector measured wins; what only he answers is not taken from the entrant. A
 * value that stands for several places is none: differences between places are not known by it.
 */
export function readOwn(run: Run, place: AnswerPlace): CelValue | undefined {
  if (run.touched !== undefined) run.touched.add(place.cell);
  return ownValue(run, place);
}

function ownValue(run: Run, place: AnswerPlace): CelValue | undefined {
  if (run.measured !== undefined) {
    const measured = at(run.measured, run.measuredSheet, place);
    if (measured !== undefined) {
      run.source = 'measured';
      return measured;
    }
  }
  if (place.inspectorOnly) return undefined;
  const declared = at(run.answers, run.sheet, place);
  if (declared !== undefined && run.source === undefined) run.source = 'declared';
  return declared;
}

/**
 * What was declared at a place and nobody has measured since: a look beside the judgement, which notes nothing.
 */
export function peekDeclared(run: Run, place: AnswerPlace): AnswerValue | undefined {
  const isMeasured = run.measured !== undefined && at(run.measured, run.measuredSheet, place) !== undefined;
  return isMeasured || place.inspectorOnly ? undefined : at(run.answers, run.sheet, place);
}

/** The answer of a cell, as `readOwn`; where there is none, the lowest value that was given around it. */
export function readAnswer(run: Run, place: AnswerPlace): CelValue | undefined {
  const own = ownValue(run, place);
  if (place.lowest === undefined || own !== undefined) {
    if (run.touched !== undefined) run.touched.add(place.cell);
    return own;
  }
  return readLowest(run, place, place.lowest);
}

/**
 * Whether a place is answered, or asked, by the lowest value around it alone: where the group asks no more than that, and
 * no value of the place itself is there.
 */
export function isByLowest(run: Run, place: AnswerPlace): boolean {
  if (!run.lowestIsEnough || place.lowest === undefined) return false;
  const { source } = run;
  const own = ownValue(run, place);
  run.source = source;
  return own === undefined && noAnswerAt(run.answers, place.cell) === undefined;
}

function readLowest(run: Run, place: AnswerPlace, lowest: AnswerPlace): CelValue | undefined {
  // what is asked is the one value where that is enough, else the value of the place
  if (run.touched !== undefined) run.touched.add(run.lowestIsEnough ? lowest.cell : place.cell);
  // not to be sure of this place is no matter of the others
  if (noAnswerAt(run.answers, place.cell) !== undefined) return undefined;
  return ownValue(run, lowest);
}

function read(run: Run, place: Place): CelValue | undefined {
  switch (place.k) {
    case 'value':
      return place.value;
    case 'answer':
      return readAnswer(run, place);
    case 'vehicle':
      return readVehicle(run.vehicle, place.path);
    case 'venue':
      return run.venue[place.name];
    case 'fact':
      return place.derive(run);
    case 'map':
      return undefined;
  }
}

function noteMissing(run: Run, missing: Missing[], place: Place): void {
  if (place.k === 'map') return;
  if (place.k === 'fact') missing.push(...place.missing(run));
  else if (place.k === 'answer') missing.push(place);
  else
    missing.push({
      says: place.says,
      inspectorOnly: false,
      ...((place.k === 'vehicle' || place.k === 'venue') && { ofRecord: true }),
      ...(place.k === 'vehicle' && { fact: place.path.join('.') }),
    });
}

function get(run: Run, place: Place): CelValue | undefined {
  const value = read(run, place);
  if (value === undefined && run.missing !== undefined) noteMissing(run, run.missing, place);
  return value;
}

const entryOf = (place: Place, name: string): Place | undefined =>
  place.k === 'map' ? place.entries.get(name) : undefined;

/** How expressions of rules read: answers, vehicle, venue, parameters; positions that the car has. */
export const RULE_READER: CelReader<Run, Place> = {
  get,
  getAt(run, place, name) {
    const entry = entryOf(place, name);
    if (entry !== undefined) return get(run, entry);
    run.missing?.push({ says: `This car has no position ${name} here`, inspectorOnly: false });
    return undefined;
  },
  has: (run, place) => read(run, place) !== undefined,
  hasAt(run, place, name) {
    const entry = entryOf(place, name);
    return entry !== undefined && read(run, entry) !== undefined;
  },
  keys: (place) => (place.k === 'map' ? place.names : []),
};
