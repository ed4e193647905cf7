import { findItem, itemApplies, positionsFor } from '../../catalogue/catalogue.ts';
import type { Item } from '../../catalogue/item.ts';
import { roundTo } from '../../quantity.ts';
import type { Vehicle } from '../../vehicle.ts';
import { bindPlace } from '../judge/build-finding.ts';
import type { CelVariable } from '../cel/types.ts';
import { typeOfAnswer } from '../kinds/answer.ts';
import type { Binder } from '../kinds/kind.ts';
import { anyOf, ANYTHING, exactly, type Possible, YES_OR_NO } from './never-values.ts';
import { bindParameter } from '../model/parameter-values.ts';
import type { RuleRef } from '../model/rule-scope.ts';
import type { Rule, RuleSet } from '../model/rule-set.ts';
import type { Place } from '../judge/run.ts';

/** What is known of one thing that a rule reads. */
export interface State {
  possible: Possible;
  mayBeMissing: boolean;
}

/** A rule at one position on a car of which some properties and some answers are supposed. */
export interface Situation {
  ruleSet: RuleSet;
  binder: Binder;
  /** what is supposed, by the name of its place; everything else may be anything */
  supposed: ReadonlyMap<string, State>;
  places: Map<CelVariable<RuleRef>, Place>;
  /** parts that may still be worked out before we give up: hostile rules must end, too */
  budget: { left: number };
}

/** Positions of an item on a car that states only what is supposed: what it does not state counts as asked. */
export function askedAt(item: Item, vehicle: Vehicle): readonly string[] | undefined {
  return itemApplies(item, vehicle) ? positionsFor(item, vehicle) : [];
}

function carOf(supposed: ReadonlyMap<string, State>): Vehicle {
  const car: Record<string, unknown> = { description: 'any' };
  for (const [name, { possible }] of supposed) {
    const [kind, outer = '', ...inner] = name.split(' ');
    const [value] = possible.k === 'one-of' && possible.values.length === 1 ? possible.values : [];
    // measured numbers decide nothing about what is asked
    if (kind !== 'vehicle' || value === undefined || (typeof value === 'number' && outer !== 'harnessPoints')) continue;
    car[outer] = inner.length === 0 ? value : { ...Object(car[outer]), [inner.join(' ')]: value };
  }
  // every name and value here comes from the schema of the record
  return car as unknown as Vehicle;
}

/** A rule at a position, with some things supposed. */
export function suppose(
  of: { rule: Rule; ruleSet: RuleSet; each: Binder['each']; position: string | undefined; budget: Situation['budget'] },
  supposed: ReadonlyMap<string, State>,
): Situation & { vehicle: Vehicle } {
  const { rule, ruleSet, each, position, budget } = of;
  const vehicle = carOf(supposed);
  const binder: Omit<Binder, 'head' | 'expression'> = {
    ruleSet,
    rule,
    each,
    position,
    event: { startsOn: '', endsOn: '' },
    parameter: (name) => bindParameter(ruleSet, {}, name),
    parameterInOwnUnit: () => undefined,
    positionsOf: (key) => {
      const item = findItem(key);
      return item === undefined ? [] : (askedAt(item, vehicle) ?? []);
    },
  };
  // places and limits are bound with these alone; no finding is made and nothing is compiled
  return { ruleSet, binder: binder as Binder, supposed, places: new Map(), budget, vehicle };
}

/** Where a variable is read in this situation. */
export function placeOf(situation: Situation, variable: CelVariable<RuleRef>): Place {
  const known = situation.places.get(variable);
  if (known !== undefined) return known;
  const place = bindPlace(variable.ref, situation.binder);
  situation.places.set(variable, place);
  return place;
}

/** The name a thing is supposed under; `undefined` for what is the same on every car. */
export function nameOf(place: Place, ref: RuleRef): string | undefined {
  if (ref.from === 'parameter') return `parameter ${ref.name}`;
  if (place.k === 'answer') return `answer ${place.cell}`;
  if (place.k === 'vehicle') return ['vehicle', ...place.path].join(' ');
  return place.k === 'venue' || place.k === 'fact' ? `${place.k} ${place.name}` : undefined;
}

function answerOf(item: Item, field: string | undefined): Possible {
  const type = typeOfAnswer(item, field);
  switch (type?.kind) {
    case 'number': {
      const { min, max, decimals } = type;
      return { k: 'between', low: Math.min(min, roundTo(min, decimals)), high: Math.max(max, roundTo(max, decimals)) };
    }
    case 'choice':
      return exactly(...type.options);
    case 'confirm':
    case 'yes-no':
      return YES_OR_NO;
    default:
      return ANYTHING;
  }
}

function parameterOf(ruleSet: RuleSet, name: string): State {
  const value = ruleSet.parameters[name]?.value;
  // switches, texts and lists are there for run groups to set; a number is judged as the rule set states it
  const possible = typeof value === 'number' ? exactly(value) : typeof value === 'boolean' ? YES_OR_NO : ANYTHING;
  return { possible, mayBeMissing: false };
}

/** All that a name of a rule may stand for, with nothing supposed. */
export function wholeOf(situation: Situation, { ref, type }: CelVariable<RuleRef>): State {
  switch (ref.from) {
    case 'answer':
      return { possible: answerOf(ref.item, ref.field), mayBeMissing: true };
    case 'parameter':
      return parameterOf(situation.ruleSet, ref.name);
    case 'vehicle': {
      const { kind } = ref.field.type;
      if (kind === 'boolean') return { possible: YES_OR_NO, mayBeMissing: true };
      const possible = kind === 'choice' || kind === 'whole' ? exactly(...ref.field.type.options) : ANYTHING;
      return { possible, mayBeMissing: true };
    }
    case 'event':
      return { possible: ANYTHING, mayBeMissing: false };
    case 'position':
      return { possible: exactly(situation.binder.position ?? ''), mayBeMissing: false };
    case 'venue':
    case 'fact':
      return { possible: anyOf(type), mayBeMissing: true };
  }
}
