import type { CelVariable, Checked } from '../cel/types.ts';
import { evaluatePossible } from './never-expression.ts';
import {
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

/** More cases than these are not tried one by one: what is over stays "may be anything", which flags nothing. */
const MAX_CASES = 200;
const MAX_CUTS = 4;

/** A thing a rule reads, with the cases it is looked at in; together they are all it may be. */
interface Asked {
  name: string;
  whole: State;
  cuts: Set<number>;
}

export type Cases = Map<string, Asked>;

function partsOf(part: Part): Part[] {
  switch (part.k) {
    case 'compare':
    case 'arithmetic':
    case 'and':
    case 'or':
      return [part.left, part.right];
    case 'not':
      return [part.operand];
    case 'if':
      return [part.test, part.yes, part.no];
    case 'list':
      return part.elements;
    case 'step':
      return part.args;
    case 'macro':
      return [part.body];
    case 'at':
      return [part.key];
    case 'present':
      return part.key === undefined ? [] : [part.key];
    case 'const':
    case 'read':
    case 'fold':
    case 'loop':
      return [];
  }
}

function placesOf(place: Place): Place[] {
  return place.k === 'map' ? [...place.entries.values()] : [place];
}

/** Adds a thing that is read, and the numbers it is compared with. */
export function noteAsked(
  cases: Cases,
  situation: Situation,
  variable: Variable,
  cuts: readonly number[],
  place: Place = placeOf(situation, variable),
): void {
  for (const one of placesOf(place)) {
    const name = nameOf(one, variable.ref);
    if (name === undefined) continue;
    const asked = cases.get(name) ?? { name, whole: wholeOf(situation, variable), cuts: new Set() };
    cases.set(name, asked);
    for (const cut of cuts) if (asked.cuts.size < MAX_CUTS) asked.cuts.add(cut);
  }
}

function numbersOf(possible: Possible): number[] {
  return possible.k === 'one-of' ? possible.values.filter((value) => typeof value === 'number') : [];
}

/** Adds everything an expression reads. */
export function noteRead(cases: Cases, situation: Situation, part: Part, cuts: readonly number[] = []): void {
  if (part.k === 'read' || part.k === 'at' || part.k === 'present' || part.k === 'fold' || part.k === 'macro') {
    noteAsked(cases, situation, part.variable, cuts);
  }
  if (part.k !== 'compare') {
    for (const inner of partsOf(part)) noteRead(cases, situation, inner);
    return;
  }
  noteRead(cases, situation, part.left, numbersOf(evaluatePossible(part.right, situation)));
  noteRead(cases, situation, part.right, numbersOf(evaluatePossible(part.left, situation)));
}

const FLOAT = new Float64Array(1);
const BITS = new BigInt64Array(FLOAT.buffer);

/** The next number there is, upwards or downwards. */
function nextTo(value: number, step: 1n | -1n): number {
  FLOAT[0] = value === 0 ? 0 : value;
  if (value === 0) return step === 1n ? Number.MIN_VALUE : -Number.MIN_VALUE;
  BITS[0] = (BITS[0] ?? 0n) + (value > 0 ? step : -step);
  return FLOAT[0] ?? value;
}

/** A range cut at some numbers: each number by itself and what lies between. */
function cut(low: number, high: number, at: readonly number[]): Possible[] {
  const pieces: Possible[] = [];
  let from = low;
  for (const value of at.filter((one) => one >= low && one <= high).toSorted((a, b) => a - b)) {
    if (from < value) pieces.push({ k: 'between', low: from, high: nextTo(value, -1n) });
    pieces.push(exactly(value));
    from = nextTo(value, 1n);
  }
  return from <= high ? [...pieces, { k: 'between', low: from, high }] : pieces;
}

function statesOf({ whole, cuts }: Asked): State[] {
  const { possible, mayBeMissing } = whole;
  const present =
    possible.k === 'one-of'
      ? possible.values.map((value) => exactly(value))
      : possible.k === 'between'
        ? cut(possible.low, possible.high, [...cuts])
        : cuts.size > 0
          ? cut(Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY, [...cuts])
          : [possible];
  const states = present.map((one) => ({ possible: one, mayBeMissing: false }));
  return mayBeMissing ? [...states, { possible: NOTHING, mayBeMissing: true }] : states;
}

/** Every combination of cases, as far as they are few; together they cover everything that can occur. */
export function* combinations(cases: Cases): Generator<ReadonlyMap<string, State>> {
  const axes: { name: string; states: State[] }[] = [];
  let count = 1;
  for (const asked of cases.values()) {
    const states = statesOf(asked);
    if (count * states.length > MAX_CASES) continue;
    count *= states.length;
    axes.push({ name: asked.name, states });
  }
  for (let index = 0; index < count; index += 1) {
    const supposed = new Map<string, State>();
    let rest = index;
    for (const { name, states } of axes) {
      const state = states[rest % states.length];
      if (state !== undefined) supposed.set(name, state);
      rest = Math.floor(rest / states.length);
    }
    yield supposed;
  }
}
