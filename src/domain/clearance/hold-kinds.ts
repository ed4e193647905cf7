import { findItem, itemApplies } from '../catalogue/catalogue.ts';
import type { Vehicle } from '../vehicle.ts';

/** Why a car is held, by kind: it decides what must be looked at before the hold is lifted, and who may lift it. */
export const HOLD_KINDS = ['contact', 'leak', 'smoke', 'noise', 'driving', 'papers', 'other'] as const;
export type HoldKind = (typeof HOLD_KINDS)[number];

/**
 * Items to inspect again before a hold of this kind is lifted. Common practice, no source: after a contact what carries
 * load or holds the driver; after a leak or smoke what is wet, hot or loose.
 */
export const INSPECT_AGAIN: Readonly<Record<HoldKind, readonly string[]>> = {
  contact: [
    'wheel.bent',
    'wheel.cracks',
    'tyre.cuts-or-bulges',
    'wheel-play.nine-three',
    'wheel-play.twelve-six',
    'steering.free-play',
    'engine.leaks',
    'belt.condition',
    'seat.mounts',
  ],
  leak: ['engine.leaks', 'brake.lines', 'fuel.cap-and-lines'],
  smoke: ['engine.leaks', 'engine.loose-items', 'exhaust.secure'],
  noise: ['exhaust.sound-level', 'exhaust.secure'],
  driving: [],
  papers: [],
  other: [],
};

/** A point of a lift: what was looked at, and what it was like. */
export interface LiftCheck {
  item: string;
  result: 'ok' | 'not-ok';
}

/** The items that a lift of this kind demands on this car, in the order of the list. */
export function itemsToInspectAgain(kind: HoldKind, vehicle: Vehicle): { item: string; label: string }[] {
  return INSPECT_AGAIN[kind].flatMap((key) => {
    const item = findItem(key);
    return item === undefined || !itemApplies(item, vehicle) ? [] : [{ item: key, label: item.label }];
  });
}

/** Of those, the ones that nobody looked at, or that were not in order. */
export function openAfterHold(
  kind: HoldKind,
  vehicle: Vehicle,
  checks: readonly LiftCheck[],
): { item: string; label: string }[] {
  return itemsToInspectAgain(kind, vehicle).filter(({ item }) => {
    const seen = checks.filter((check) => check.item === item);
    return seen.length === 0 || seen.some(({ result }) => result === 'not-ok');
  });
}
