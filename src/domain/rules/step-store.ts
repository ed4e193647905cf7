import type { CompiledRule } from './compile-rule-set.ts';
import type { Step } from './program.ts';
import type { Slots } from './run.ts';

/** The positions of an item on one kind of car. */
export type PositionsOf = (itemKey: string) => readonly string[];

interface KeptStep {
  position: string | undefined;
  step: Step;
  /** the positions that making it asked for: all that it knows of the kind of car; most ask for none */
  asked: ReadonlyMap<string, readonly string[]> | undefined;
}

/**
 * The steps made under one run group's parameters and one event's days, for all kinds of car. Most steps are the same
 * for every kind; sharing them keeps what a judgement reads small, whatever mix of cars comes one after the other.
 */
export interface StepStore {
  /** the cells that the steps read; they only grow, so that a step keeps its slots */
  slots: Slots;
  kept: Map<CompiledRule, KeptStep[]>;
}

export const makeStepStore = (): StepStore => ({ slots: new Map(), kept: new Map() });

function isSame(one: readonly string[], other: readonly string[]): boolean {
  return one.length === other.length && one.every((position, index) => position === other[index]);
}

function isFor({ asked }: KeptStep, positionsOf: PositionsOf): boolean {
  for (const [itemKey, positions] of asked ?? []) {
    if (!isSame(positions, positionsOf(itemKey))) return false;
  }
  return true;
}

/**
 * The step of a rule at a position: one made for another kind of car that has the same positions of all items that
 * were asked for, or a new one.
 *
 * @param make makes the step; it learns of the kind of car through what it is given, and only while it runs
 */
export function findStep(
  store: StepStore,
  rule: CompiledRule,
  position: string | undefined,
  positionsOf: PositionsOf,
  make: (positionsOf: PositionsOf) => Step,
): Step {
  const kept = store.kept.get(rule) ?? [];
  const found = kept.find((one) => one.position === position && isFor(one, positionsOf));
  if (found !== undefined) return found.step;
  let asked: Map<string, readonly string[]> | undefined;
  const step = make((itemKey) => {
    const positions = positionsOf(itemKey);
    asked = (asked ?? new Map<string, readonly string[]>()).set(itemKey, positions);
    return positions;
  });
  kept.push({ position, step, asked });
  store.kept.set(rule, kept);
  return step;
}
