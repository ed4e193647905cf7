import { findItem } from '../../catalogue/catalogue.ts';
import type { PositionScheme } from '../../catalogue/item.ts';
import { cellKey } from '../../declaration/declaration.ts';
import { noAnswerAt } from '../../declaration/no-answer.ts';
import { BRAKE_FACTS, BRAKE_FLUID_FACTS } from '../../facts/brakes.ts';
import { CHASSIS_FACTS, WHEEL_FACTS } from '../../facts/chassis.ts';
import { ENGINE_FACTS } from '../../facts/engine.ts';
import type { Fact, FactInput } from '../../facts/fact.ts';
import { RESTRAINT_FACTS, SAFETY_FACTS } from '../../facts/safety.ts';
import { TYRE_FACTS, TYRE_MARKING_FACTS } from '../../facts/tyres.ts';
import { WEAR_FACTS } from '../../facts/wear.ts';
import type { CelValue } from '../cel/types.ts';
import {
  type AnswerPlace,
  type Derived,
  type Missing,
  type Place,
  readAnswer,
  readOwn,
  type Run,
} from '../judge/run.ts';
import { answerPlace } from '../kinds/answer.ts';
import { eachOf, enclosing, relate } from './rule-each.ts';
import type { RuleFault } from './rule-fault.ts';
import type { EventDays, Rule } from './rule-set.ts';

/**
 * Derived facts that expressions read as `facts.<name>`, each with its type, its meaning and how it is worked out. A
 * name that is not here is unknown, and a rule that uses it is refused.
 */
export const FACTS: Readonly<Record<string, Fact>> = {
  ...BRAKE_FACTS,
  ...BRAKE_FLUID_FACTS,
  ...WEAR_FACTS,
  ...TYRE_FACTS,
  ...TYRE_MARKING_FACTS,
  ...WHEEL_FACTS,
  ...ENGINE_FACTS,
  ...CHASSIS_FACTS,
  ...SAFETY_FACTS,
  ...RESTRAINT_FACTS,
};

/** The fact of a name; `undefined` when there is none. */
export function findFact(name: string): Fact | undefined {
  return Object.hasOwn(FACTS, name) ? FACTS[name] : undefined;
}

type FactPlace = Extract<Place, { k: 'fact' }>;

/** Places of answers that facts read, by cell: making one composes its texts, reading one is a look-up. */
const places = new Map<string, AnswerPlace>();

function placeAt(key: string, position: string | undefined, field: string | undefined): AnswerPlace {
  const cell = cellKey(key, position, field);
  const known = places.get(cell);
  if (known !== undefined) return known;
  const item = findItem(key);
  if (item === undefined) throw new Error(`no item ${key}`);
  const made = answerPlace(item, position, field);
  places.set(cell, made);
  return made;
}

/** Who asks for a fact of the car names its path; `record` is the venue's. */
const factOf = (of: string | undefined) => (of === undefined || of === 'record' ? {} : { fact: of });

function inputOf(run: Run, event: EventDays, missing: Missing[] | undefined): FactInput {
  const noted = (read: typeof readAnswer, place: AnswerPlace) => {
    const value = read(run, place);
    if (value === undefined) missing?.push(place);
    // cells hold single values or lists of options
    return value as ReturnType<FactInput['answer']>;
  };
  return {
    vehicle: run.vehicle,
    venue: run.venue,
    event,
    earlier: run.earlier,
    answer: (key, { position, field } = {}) => noted(readAnswer, placeAt(key, position, field)),
    own: (key, { position, field } = {}) => noted(readOwn, placeAt(key, position, field)),
    given(key, { position, field } = {}) {
      const { touched } = run;
      run.touched = undefined;
      const value = readOwn(run, placeAt(key, position, field));
      run.touched = touched;
      return value as ReturnType<FactInput['answer']>;
    },
    atLine: (key, { position, field } = {}) => run.measured?.has(cellKey(key, position, field)) === true,
    saidNone: (key, { position } = {}) => noAnswerAt(run.answers, cellKey(key, position)) !== undefined,
    need(value, says, of) {
      if (value === undefined)
        missing?.push({ says, inspectorOnly: false, ...(of !== undefined && { ofRecord: true }), ...factOf(of) });
      return value;
    },
  };
}

function compute(fact: Fact, input: FactInput, position: string | undefined): CelValue | undefined {
  try {
    return fact.compute(input, position ?? '');
  } catch {
    // what cannot be worked out is not known; an error never meets a rule
    return undefined;
  }
}

/** Works the value out, with what it was worked out from, and leaves the run as it was. */
function deriveNow(run: Run, fact: Fact, event: EventDays, position: string | undefined): Derived {
  const { source, doubts, touched } = run;
  run.source = undefined;
  run.doubts = doubts && new Set();
  run.touched = touched && new Set();
  const value = compute(fact, inputOf(run, event, undefined), position);
  const derived = { value, source: run.source, doubts: run.doubts, touched: run.touched };
  run.source = source;
  run.doubts = doubts;
  run.touched = touched;
  return derived;
}

/** Whoever reads the fact reads what it was derived from. */
function noteRead({ touched, doubts }: Run, derived: Derived): void {
  if (touched !== undefined) for (const cell of derived.touched ?? []) touched.add(cell);
  if (doubts !== undefined) for (const path of derived.doubts ?? []) doubts.add(path);
}

/** Works the value out once per judgement, and remembers who gave the answers it was worked out from. */
function derive(run: Run, fact: Fact, event: EventDays, { name, position }: FactPlace): CelValue | undefined {
  let derived = run.derived.get(name);
  if (derived === undefined || (run.touched !== undefined && derived.touched === undefined)) {
    derived = deriveNow(run, fact, event, position);
    run.derived.set(name, derived);
  }
  noteRead(run, derived);
  if (run.source === undefined || derived.source === 'measured') run.source = derived.source ?? run.source;
  return derived.value;
}

function listMissing(run: Run, fact: Fact, event: EventDays, position: string | undefined): Missing[] {
  const before = run.source;
  const missing: Missing[] = [];
  compute(fact, inputOf(run, event, missing), position);
  run.source = before;
  if (missing.length > 0) return missing;
  const at = position === undefined ? '' : ` at ${position}`;
  return [{ says: `What is known does not give ${fact.meaning}${at}`, inspectorOnly: false }];
}

function listSources(run: Run, fact: Fact, event: EventDays, position: string | undefined): readonly string[] {
  const before = run.source;
  try {
    return fact.restsOn?.(inputOf(run, event, undefined), position ?? '') ?? [];
  } catch {
    // a value that cannot be worked out rests on nothing
    return [];
  } finally {
    run.source = before;
  }
}

/** Where a derived fact is read, at one of its own positions. */
export function factPlace(factName: string, position: string | undefined, event: EventDays): FactPlace {
  const fact = findFact(factName);
  if (fact === undefined) throw new Error(`no fact ${factName}`);
  const name = position === undefined ? factName : `${factName}@${position}`;
  const place: FactPlace = {
    k: 'fact',
    name,
    fact: factName,
    position,
    derive: (run) => derive(run, fact, event, place),
    missing: (run) => listMissing(run, fact, event, position),
    restsOn: (run) => listSources(run, fact, event, position),
  };
  return place;
}

/** The fact's own position where a rule runs; `null` where the rule does not run over single positions of it. */
function positionOf(
  scheme: PositionScheme | undefined,
  each: PositionScheme | undefined,
  position: string | undefined,
): string | undefined | null {
  if (scheme === undefined) return undefined;
  return (each && position !== undefined && enclosing(position, each, scheme)) || null;
}

/** Reads what a rule's `fixFact` adds to `fix` at one position; `undefined` for a rule without one. */
export function bindFixFact(
  { fixFact }: Rule,
  each: PositionScheme | undefined,
  position: string | undefined,
  event: EventDays,
): ((run: Run) => string | undefined) | undefined {
  const fact = fixFact === undefined ? undefined : findFact(fixFact);
  if (fixFact === undefined || fact === undefined) return undefined;
  const at = positionOf(fact.scheme, each, position);
  if (at === null) return undefined;
  const place = factPlace(fixFact, at, event);
  return (run) => {
    const source = run.source;
    const text = place.derive(run);
    // who gave the answers that were judged is not changed by what is told beside
    run.source = source;
    return typeof text === 'string' ? text : undefined;
  };
}

/** What is wrong with the `fixFact` of a rule; `undefined` = nothing. */
export function findFixFactFault(rule: Rule): Pick<RuleFault, 'code' | 'detail'> | undefined {
  const { fixFact } = rule;
  if (fixFact === undefined) return undefined;
  const fact = findFact(fixFact);
  if (fact === undefined) {
    return { code: 'unknown-name', detail: `there is no derived fact ${JSON.stringify(fixFact)}` };
  }
  if (fact.type.kind !== 'string') return { code: 'type-clash', detail: `${JSON.stringify(fixFact)} is not a text` };
  const each = eachOf(rule);
  const isSingle = fact.scheme === undefined || (each !== undefined && spans(fact.scheme, each));
  if (isSingle) return undefined;
  const detail = `${JSON.stringify(fixFact)} is known per ${fact.scheme}, the rule does not run over it`;
  return { code: 'each-mismatch', detail };
}

function spans(scheme: PositionScheme, each: PositionScheme): boolean {
  const relation = relate(scheme, each);
  return relation === 'same' || relation === 'coarser';
}
