import type { Intent, OperationKind, Span } from './history.ts';

/**
 * What decides about a car, in the words of the trade and in as few of them as will do: written anew here, so that it
 * does not share a mistake with the service.
 */
export interface CarState {
  declared: 'no' | 'barred' | 'yes';
  accepted: boolean;
  holds: ReadonlySet<string>;
}

export const NEW_CAR: CarState = { declared: 'no', accepted: false, holds: new Set() };

/** What one decided thing does to a car. A submission voids what was signed off before it. */
export function step(state: CarState, kind: OperationKind, intent: Intent, holdId: string): CarState {
  switch (kind) {
    case 'submit':
      return { ...state, declared: intent.thin === true ? 'barred' : 'yes', accepted: false };
    case 'sign-off':
      return { ...state, accepted: intent.decision !== 'refuse' };
    case 'hold':
      return { ...state, holds: new Set([...state.holds, holdId]) };
    case 'lift': {
      const holds = new Set([...state.holds].filter((id) => id !== holdId));
      return { ...state, holds, accepted: state.accepted && intent.requireReinspection !== true };
    }
    case 'claim':
    case 'renew':
    case 'put-back':
    case 'import':
      return state;
  }
}

/** Whether the car may go onto the track. */
export const admits = (state: CarState): boolean =>
  state.declared === 'yes' && state.accepted && state.holds.size === 0;

/** A state and the time in which it may have been the current one. */
export interface Era {
  admits: boolean;
  from: number;
  to: number;
}

/** Something decided about a car, in the order of its history, and when it may have been decided. */
export interface Decided extends Span {
  kind: OperationKind;
  intent: Intent;
  holdId: string;
}

/**
 * The eras of a car. Each change happened at some instant of its span, and they happened in the given order; so a state
 * can have been seen from the earliest instant of its own change until the latest instant of the next one.
 *
 * @returns eras, or the place of a change that cannot have happened in this order
 */
export function erasOf(changes: readonly Decided[]): { eras: Era[]; impossibleAt?: number } {
  const earliest: number[] = [];
  for (const { from } of changes) earliest.push(Math.max(from, earliest.at(-1) ?? -Infinity));
  const latest: number[] = changes.map(({ to }) => to);
  for (let place = latest.length - 2; place >= 0; place -= 1) {
    latest[place] = Math.min(latest[place] ?? Infinity, latest[place + 1] ?? Infinity);
  }
  const impossibleAt = changes.findIndex((_, place) => (earliest[place] ?? 0) > (latest[place] ?? 0));
  let state = NEW_CAR;
  const eras: Era[] = [{ admits: false, from: -Infinity, to: latest[0] ?? Infinity }];
  for (const [place, change] of changes.entries()) {
    state = step(state, change.kind, change.intent, change.holdId);
    eras.push({ admits: admits(state), from: earliest[place] ?? 0, to: latest[place + 1] ?? Infinity });
  }
  return impossibleAt < 0 ? { eras } : { eras, impossibleAt };
}

/** Whether an answer can be right: whether some state of the time in which it was asked for gives it. */
export const canBe = (eras: readonly Era[], answer: boolean, asked: Span): boolean =>
  eras.some((era) => era.admits === answer && era.from <= asked.to && era.to >= asked.from);
