import type { CelValue, CelVariable, Checked } from '../cel/types.ts';
import {
  anyOf,
  ANYTHING,
  calculate,
  canBe,
  combine,
  compare,
  either,
  exactly,
  nameOf,
  NOTHING,
  placeOf,
  type Possible,
  type Situation,
  type State,
  wholeOf,
} from './never-places.ts';
import type { RuleRef } from '../model/rule-scope.ts';
import type { Place } from '../judge/run.ts';

type Part = Checked<RuleRef>;
type Variable = CelVariable<RuleRef>;

/** Thrown when the budget is used up; nothing is said of the rule then. */
export class OutOfBudget extends Error {}

interface Walk {
  situation: Situation;
  /** positions that comprehensions stand at, by their id */
  loops: ReadonlyMap<number, string>;
}

const UNASKED: State = { possible: NOTHING, mayBeMissing: true };

function stateAt({ situation }: Walk, variable: Variable, place: Place): State {
  const name = nameOf(place, variable.ref);
  return (name === undefined ? undefined : situation.supposed.get(name)) ?? wholeOf(situation, variable);
}

/** The states a part may stand for: of a single place, or of each position its key may name. */
function statesOf(walk: Walk, variable: Variable, key: Part | undefined): State[] {
  const place = placeOf(walk.situation, variable);
  if (key === undefined || place.k !== 'map') return [stateAt(walk, variable, place)];
  const keys = possibleOf(walk, key);
  const names = keys.k === 'one-of' ? keys.values : place.names;
  const states = names.map((name) => {
    const entry = place.entries.get(String(name));
    return entry === undefined ? UNASKED : stateAt(walk, variable, entry);
  });
  return keys.k === 'one-of' ? states : [...states, UNASKED];
}

function presence(walk: Walk, part: Part & { k: 'present' }): Possible {
  const states = statesOf(walk, part.variable, part.key);
  const isThere = states.some(({ possible }) => possible.k !== 'one-of' || possible.values.length > 0);
  const isMissing = states.some(({ mayBeMissing }) => mayBeMissing);
  return exactly(...(isThere ? [true] : []), ...(isMissing ? [false] : []));
}

function logic(walk: Walk, part: Part & { k: 'and' | 'or' }): Possible {
  const sides = [possibleOf(walk, part.left), possibleOf(walk, part.right)];
  const decides = part.k === 'or';
  const values = [
    ...(sides.some((side) => canBe(side, decides)) ? [decides] : []),
    ...(sides.every((side) => canBe(side, !decides)) ? [!decides] : []),
  ];
  return exactly(...values);
}

/** A car may lack any position, so that "all" may hold over none and "exists" may find none. */
function comprehension(walk: Walk, part: Part & { k: 'macro' }): Possible {
  const place = placeOf(walk.situation, part.variable);
  const names = place.k === 'map' ? place.names : [];
  const bodies = names.map((name) =>
    possibleOf({ ...walk, loops: new Map([...walk.loops, [part.id, name]]) }, part.body),
  );
  if (part.macro === 'all') return exactly(true, ...(bodies.some((body) => canBe(body, false)) ? [false] : []));
  return exactly(...(bodies.some((body) => canBe(body, true)) ? [true] : []), false);
}

function conditional(walk: Walk, part: Part & { k: 'if' }): Possible {
  const test = possibleOf(walk, part.test);
  const yes = canBe(test, true) ? possibleOf(walk, part.yes) : NOTHING;
  return either(yes, canBe(test, false) ? possibleOf(walk, part.no) : NOTHING);
}

function stepped(walk: Walk, part: Part & { k: 'step' }): Possible {
  const args = part.args.map((arg) => possibleOf(walk, arg));
  if (args.some((arg) => arg.k === 'one-of' && arg.values.length === 0)) return NOTHING;
  const rows = combine(args);
  if (rows === undefined) return anyOf(part.type);
  // a step is built for the types of its parts, and these values are of them
  const step = part.step as (...values: CelValue[]) => CelValue | undefined;
  return exactly(...rows.map((row) => step(...row)).filter((value) => value !== undefined));
}

function listed(walk: Walk, part: Part & { k: 'list' }): Possible {
  const rows = combine(part.elements.map((element) => possibleOf(walk, element)));
  return rows === undefined ? ANYTHING : exactly(...rows);
}

function negated(walk: Walk, operand: Part): Possible {
  const possible = possibleOf(walk, operand);
  return exactly(...[true, false].filter((value) => canBe(possible, !value)));
}

function possibleOf(walk: Walk, part: Part): Possible {
  walk.situation.budget.left -= 1;
  if (walk.situation.budget.left < 0) throw new OutOfBudget();
  switch (part.k) {
    case 'const':
      return exactly(part.value);
    case 'read':
    case 'at':
      return statesOf(walk, part.variable, part.k === 'at' ? part.key : undefined)
        .map(({ possible }) => possible)
        .reduce(either, NOTHING);
    case 'present':
      return presence(walk, part);
    case 'loop':
      return exactly(walk.loops.get(part.id) ?? '');
    case 'fold':
      return ANYTHING;
    case 'macro':
      return comprehension(walk, part);
    case 'compare':
      return compare(part.operator, possibleOf(walk, part.left), possibleOf(walk, part.right));
    case 'arithmetic':
      return calculate(part.operator, part.whole, possibleOf(walk, part.left), possibleOf(walk, part.right));
    case 'and':
    case 'or':
      return logic(walk, part);
    case 'not':
      return negated(walk, part.operand);
    case 'if':
      return conditional(walk, part);
    case 'list':
      return listed(walk, part);
    case 'step':
      return stepped(walk, part);
  }
}

/**
 * All that an expression may give in a situation. Never less than what can really occur.
 *
 * @throws OutOfBudget
 */
export function evaluatePossible(part: Part, situation: Situation): Possible {
  return possibleOf({ situation, loops: new Map() }, part);
}

/** Whether an expression may be a yes/no of this value. */
export const mayBe = (part: Part, situation: Situation, value: boolean): boolean =>
  canBe(evaluatePossible(part, situation), value);
