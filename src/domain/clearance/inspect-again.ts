import { findItem, itemApplies } from '../catalogue/catalogue.ts';
import type { Vehicle } from '../vehicle.ts';
import { isNear } from '../catalogue/item.ts';
import type { ReadWith } from '../line/instruments.ts';
import type { CheckedPoint } from '../line/line-judgement.ts';
import type { Finding } from '../rules/model/finding.ts';

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

/** A check of a sign-off as it was made: measured (`value`) or seen (`result`). */
export interface MadeCheck extends CheckedPoint {
  value?: unknown;
  readWith?: ReadWith | undefined;
  result?: 'ok' | 'not-ok' | undefined;
  note?: string | undefined;
}

/** A refusal that stands at the car, with what it looked at. */
export interface StandingRefusal {
  /** name of the run group in which the car was refused */
  runGroup: string;
  note: string;
  checks: readonly MadeCheck[];
  findings: readonly Finding[];
}

/** A point that the car was refused for; it needs a new value or state before the car is accepted. */
export interface RefusedPoint extends CheckedPoint {
  /** what was written at the point, else why the car was refused */
  why: string;
}

/** The points that refusals named, each once: seen not ok, or measured and not met. Of them those that this car has. */
export function refusedPoints(refusals: readonly StandingRefusal[], vehicle: Vehicle): RefusedPoint[] {
  const points = new Map<string, RefusedPoint>();
  for (const refusal of refusals) {
    for (const check of refusal.checks.filter((one) => isBad(one, refusal.findings))) {
      const item = findItem(check.item);
      const key = `${check.item}/${check.position ?? ''}`;
      if (item === undefined || !itemApplies(item, vehicle) || points.has(key)) continue;
      const position = check.position === undefined ? {} : { position: check.position };
      points.set(key, { item: check.item, ...position, why: check.note ?? refusal.note });
    }
  }
  return [...points.values()];
}

/** Whether a check found the point not in order: seen so, or measured and a rule not met by it. */
export function isBad({ item, position, value, result }: MadeCheck, findings: readonly Finding[]): boolean {
  if (result !== undefined) return result === 'not-ok';
  return (
    value !== undefined &&
    findings.some((finding) => {
      if (finding.result !== 'not-met' || finding.source !== 'measured') return false;
      return finding.items.includes(item) && (finding.position === undefined || isNear(position, finding.position));
    })
  );
}

/** The refused points that no check of this time is about. */
export function stillRefused(refused: readonly RefusedPoint[], checked: readonly CheckedPoint[]): RefusedPoint[] {
  return refused.filter(
    ({ item, position }) => !checked.some((check) => check.item === item && isNear(check.position, position)),
  );
}
