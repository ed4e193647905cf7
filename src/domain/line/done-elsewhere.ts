import { findItem, itemApplies, WORN_ITEMS } from '../catalogue/catalogue.ts';
import { type HoldKind, INSPECT_AGAIN, isBad, type MadeCheck } from '../clearance/inspect-again.ts';
import type { ReadWith } from './instruments.ts';
import type { CheckedPoint } from './line-judgement.ts';
import { isNear } from '../catalogue/item.ts';
import type { Finding } from '../rules/model/finding.ts';
import type { Vehicle } from '../vehicle.ts';

/**
 * What belongs to the driver and not to the car: what is worn, how one fits, what one felt and signs for. Asked again for
 * each entry, because a shared car has other drivers. A test holds the list against the whole catalogue of safety equipment.
 */
export const ABOUT_DRIVER: ReadonlySet<string> = new Set<string>([
  ...WORN_ITEMS,
  'harness.angles',
  'arm-restraints',
  'rollover.clearance',
  'debrief.symptoms',
  'declaration.true-and-complete',
]);

/** An acceptance of another entry of the same car that stands, with what was said of the car since. */
export interface OtherAcceptance {
  signOffId: string;
  /** name of the run group for which it was given */
  runGroup: string;
  /** who signed it off */
  by: string;
  /** when, RFC 3339 */
  at: string;
  checks: readonly (MadeCheck & { from?: unknown })[];
  findings: readonly Finding[];
  /** kinds of the holds that were placed on the car or one of its entries since */
  holds: readonly HoldKind[];
  /** what the line refused the car for since, at whichever entry */
  refusals: readonly { checks: readonly MadeCheck[]; findings: readonly Finding[] }[];
}

/** A point about the car that was done for another of its entries. */
export interface DonePoint extends CheckedPoint {
  value?: unknown;
  readWith?: ReadWith | undefined;
  result?: 'ok' | undefined;
  of: OtherAcceptance;
}

/**
 * The points about the car that count for another entry of it: the newest check of each, unless it was not ok, was itself
 * taken over, or the point was refused since, or is one that a hold since then demands to be inspected again. A refusal
 * that names no point leaves nothing: nobody knows which it was.
 *
 * @param acceptances oldest first
 */
export function doneElsewhere(acceptances: readonly OtherAcceptance[], vehicle: Vehicle): DonePoint[] {
  const points = new Map<string, DonePoint>();
  for (const of of acceptances) {
    const bad = of.refusals.map(({ checks, findings }) => checks.filter((check) => isBad(check, findings)));
    if (bad.some((named) => named.length === 0)) continue;
    const notOk = [...bad.flat(), ...of.checks.filter((check) => check.result === 'not-ok')];
    for (const [key, point] of points) if (notOk.some((one) => isSamePlace(one, point))) points.delete(key);
    const held = new Set(of.holds.flatMap((kind) => INSPECT_AGAIN[kind]));
    for (const check of of.checks) {
      if (held.has(check.item) || !isOfCar(check, vehicle) || notOk.some((one) => isSamePlace(one, check))) continue;
      points.set(`${check.item}/${check.position ?? ''}`, donePoint(check, of));
    }
  }
  return [...points.values()];
}

/** About the car, which has such a thing, and looked at there: not taken over itself. */
function isOfCar(check: OtherAcceptance['checks'][number], vehicle: Vehicle): boolean {
  const item = findItem(check.item);
  return check.from === undefined && !ABOUT_DRIVER.has(check.item) && item !== undefined && itemApplies(item, vehicle);
}

function donePoint({ item, position, value, readWith, result }: MadeCheck, of: OtherAcceptance): DonePoint {
  const point = { item, ...(position === undefined ? {} : { position }), of };
  if (result !== undefined) return { ...point, result: 'ok' };
  return { ...point, value, ...(readWith === undefined ? {} : { readWith }) };
}

/**
 * Whether a done point closes what this entry's rules ask there. A rule that is not met here, with what was measured there
 * and the limits of here, leaves it open, unless the very same was found there and accepted.
 */
export function isClosed(point: DonePoint, findings: readonly Finding[]): boolean {
  return findings.every((finding) => {
    const asks = finding.result !== 'met' && (finding.counts === 'inspect' || finding.counts === 'bar');
    if (!asks || !finding.items.includes(point.item) || !isNear(point.position, finding.position)) return true;
    return point.of.findings.some((other) => isSameFinding(other, finding));
  });
}

const isSamePlace = (one: CheckedPoint, other: CheckedPoint): boolean =>
  one.item === other.item && isNear(one.position, other.position);

function isSameFinding(one: Finding, other: Finding): boolean {
  const same = (a: unknown, b: unknown): boolean => JSON.stringify(a ?? null) === JSON.stringify(b ?? null);
  return (
    (['ruleId', 'position', 'result', 'limit', 'message'] as const).every((key) => one[key] === other[key]) &&
    same(one.measured?.value, other.measured?.value)
  );
}
