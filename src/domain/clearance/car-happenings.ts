import type { Instant } from '../calendar.ts';
import { type MovedCondition, withMoved } from '../log/condition-due.ts';
import type { TorqueRecheck } from '../log/session-log.ts';

/** What a hold is about: the car (wherever it is entered), a driver (whatever he drives), or one entry alone. */
export const HOLD_SUBJECTS = ['car', 'driver', 'entry'] as const;
export type HoldSubject = (typeof HOLD_SUBJECTS)[number];

/** Where something was found: the entry, and the name its run group had then, which is what the others read. */
export interface FoundAt {
  entryId: string;
  runGroup: string;
}

export interface CarHold extends FoundAt {
  holdId: string;
  reason: string;
}

export interface CarRefusal extends FoundAt {
  signOffId: string;
  note?: string | undefined;
}

export interface CarRecall extends FoundAt {
  reason: string;
}

/** An open condition about the car; the rest as in `OpenCondition`. */
export interface CarCondition extends FoundAt {
  id: string;
  text: string;
  dueAt?: Instant | undefined;
  recheck?: TorqueRecheck | undefined;
}

/**
 * What is wrong with a car at an event, whichever of its entries it was found at. It is always the fold of the car's own
 * history (`foldCar`), and stands against every entry of the car, those made later too.
 */
export interface CarFacts {
  holds: readonly CarHold[];
  refusals: readonly CarRefusal[];
  recalls: readonly CarRecall[];
  conditions: readonly CarCondition[];
  /** stickers that are still on the car and count no more */
  voidStickers: readonly string[];
}

/** What can happen to a car, in the words of the history. */
export type CarHappening =
  | (CarHold & { type: 'car-held'; stickers?: readonly string[] })
  | { type: 'car-lifted'; holdId: string; stickers?: readonly string[] }
  | (CarRefusal & { type: 'car-refused'; stickers?: readonly string[] })
  | (CarRecall & { type: 'car-recalled' })
  | (FoundAt & {
      type: 'car-accepted';
      signOffId: string;
      conditions: readonly Omit<CarCondition, keyof FoundAt>[];
      sticker?: string | undefined;
    })
  | { type: 'car-condition-done'; conditionId: string }
  | { type: 'car-conditions-moved'; conditions: readonly MovedCondition[] }
  | { type: 'car-took-over'; stickers: readonly string[] }
  | { type: 'car-sent-back'; stickers: readonly string[] };

export const NOTHING_WRONG: CarFacts = { holds: [], refusals: [], recalls: [], conditions: [], voidStickers: [] };

/** The facts after all that happened to the car, in order. */
export function foldCar(events: readonly CarHappening[]): CarFacts {
  return events.reduce(applyCarHappening, NOTHING_WRONG);
}

/**
 * The facts after one more event. An acceptance clears what the line found before, for every entry: it looked at the car
 * after that. Holds stand until they are lifted; conditions until they are done, or their own entry is accepted anew.
 */
export function applyCarHappening(facts: CarFacts, event: CarHappening): CarFacts {
  switch (event.type) {
    case 'car-held': {
      const { type: _, stickers, ...hold } = event;
      return { ...withVoid(facts, stickers), holds: [...facts.holds, hold] };
    }
    case 'car-lifted': {
      const holds = facts.holds.filter(({ holdId }) => holdId !== event.holdId);
      return { ...facts, holds, voidStickers: facts.voidStickers.filter((one) => !event.stickers?.includes(one)) };
    }
    case 'car-refused': {
      const { type: _, stickers, ...refusal } = event;
      const others = facts.refusals.filter(({ entryId }) => entryId !== event.entryId);
      return { ...withVoid(facts, stickers), refusals: [...others, refusal] };
    }
    case 'car-recalled': {
      const { type: _, ...recall } = event;
      return { ...facts, recalls: [...facts.recalls.filter(({ entryId }) => entryId !== event.entryId), recall] };
    }
    case 'car-accepted':
      return applyAcceptance(facts, event);
    case 'car-condition-done':
      return { ...facts, conditions: facts.conditions.filter(({ id }) => id !== event.conditionId) };
    case 'car-conditions-moved':
      return { ...facts, conditions: withMoved(facts.conditions, event.conditions) };
    case 'car-took-over':
    case 'car-sent-back':
      return withVoid(facts, event.stickers);
  }
}

function applyAcceptance(facts: CarFacts, event: CarHappening & { type: 'car-accepted' }): CarFacts {
  const { entryId, runGroup, sticker } = event;
  const others = facts.conditions.filter((condition) => condition.entryId !== entryId);
  return {
    ...facts,
    refusals: [],
    recalls: [],
    conditions: [...others, ...event.conditions.map((condition) => ({ ...condition, entryId, runGroup }))],
    voidStickers: facts.voidStickers.filter((one) => one !== sticker),
  };
}

function withVoid(facts: CarFacts, stickers: readonly string[] = []): CarFacts {
  const added = stickers.filter((one) => !facts.voidStickers.includes(one));
  return added.length === 0 ? facts : { ...facts, voidStickers: [...facts.voidStickers, ...added] };
}
