import { AS_DESCRIBED } from '../../domain/car/fact-table.ts';
import { findItem, itemApplies, positionsFor } from '../../domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../domain/catalogue/item.ts';
import { barringFindings } from '../../domain/clearance/clearance.ts';
import type { stillRefused } from '../../domain/clearance/inspect-again.ts';
import { hasBasis } from '../../domain/declaration/basis.ts';
import { type Answers, parseAnswers } from '../../domain/declaration/declaration.ts';
import { isNoAnswer } from '../../domain/declaration/no-answer.ts';
import {
  type CheckedPoint,
  keepMeasured,
  notLookedAt,
  rawOf,
  saysHowItIs,
  type SeenPoint,
  uncheckedFindings,
  valuesOn,
} from '../../domain/line/line-judgement.ts';
import { instrumentsFor, type NamedInstrument, sameName, unitFits } from '../../domain/line/instruments.ts';
import type { Finding, Judgement } from '../../domain/rules/model/finding.ts';
import type { AlwaysLook } from '../../domain/rules/model/rule-set.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { type FieldError, nameFaults, ProblemError } from '../../http/frame/problem.ts';
import type { Check, KnownCheck, SignOff } from './schemas.ts';

const NOT_A_VALUE = 'Give what was measured; where the car has no such thing, tick the point after looking.';

const ONE_PLACE = 'Give what was measured at this place: at the line a value stands for no other.';

/** What the inspector's checks come to: measurements that judge again, and points seen. */
export interface ReadChecks {
  measured: Answers;
  seen: SeenPoint[];
  checked: CheckedPoint[];
}

/**
 * Parses the checks of a sign-off like answers of a declaration. A later measurement of the same point wins.
 *
 * @throws ProblemError `answers-not-acceptable` naming every fault by its place in the body
 */
export function readChecks(checks: readonly KnownCheck[], vehicle: Vehicle): ReadChecks {
  const errors: FieldError[] = [];
  const measured = new Map<string, Answers extends ReadonlyMap<string, infer V> ? V : never>();
  for (const [index, check] of checks.entries()) {
    const place = `/checks/${index}`;
    const misplaced = placeFault(check, vehicle, place);
    if (misplaced !== undefined) errors.push(misplaced);
    else if (check.value !== undefined) {
      const parsed = parseAnswers(rawOf(check));
      if (!parsed.ok) errors.push(...parsed.faults.map((fault) => atCheck(fault, check, place)));
      // "Not answered" is fine in a draft; as a check it would pass for having looked.
      else if (parsed.answers.size === 0) errors.push(fault(`${place}/value`, 'missing', 'Give what was measured.'));
      else if (hasBasis(check.value)) errors.push(fault(`${place}/value`, 'wrong-type', ONE_PLACE));
      else if (isNoAnswer(check.value)) errors.push(fault(`${place}/value`, 'missing', NOT_A_VALUE));
      if (parsed.ok) keepMeasured(measured, check, parsed.answers);
    }
    errors.push(...readWithFaults(check, place));
  }
  if (errors.length > 0) {
    throw new ProblemError('answers-not-acceptable', nameFaults(errors), { errors });
  }
  const checked = checks.map(({ item, position, value }) => ({ item, position, measured: saysHowItIs(value) }));
  return { measured, seen: seenPoints(checks), checked };
}

/** An uncertainty in another dimension would say nothing of the value, and without a value there is nothing it is of. */
function readWithFaults({ item, value, readWith }: KnownCheck, place: string): FieldError[] {
  if (readWith === undefined) return [];
  if (value === undefined) return [fault(`${place}/readWith`, 'missing', 'Give what was measured with it.')];
  if (unitFits(item, readWith.unit)) return [];
  return [fault(`${place}/readWith/unit`, 'unit-mismatch', 'Is no unit of what was measured.')];
}

/**
 * The checks with the uncertainty of the instruments that they name: from the event's list, where the inspector gave none.
 *
 * @throws ProblemError `answers-not-acceptable` naming each instrument that is not on the list
 */
export function withInstruments(checks: readonly Check[], list: readonly NamedInstrument[]): KnownCheck[] {
  const errors: FieldError[] = [];
  const resolved = checks.map(({ readWith, ...check }, index): KnownCheck => {
    if (readWith === undefined) return check;
    const { uncertainty, unit } = readWith;
    if (uncertainty !== undefined && unit !== undefined) {
      return { ...check, readWith: { name: readWith.name, uncertainty, unit, by: 'inspector' } };
    }
    const known = instrumentsFor(list, check.item).find(({ name }) => sameName(name, readWith.name));
    if (known !== undefined) {
      return {
        ...check,
        readWith: { name: known.name, uncertainty: known.uncertainty, unit: known.unit, by: 'event' },
      };
    }
    const detail = `The event has no instrument "${readWith.name}" for this; give its uncertainty and unit, or leave it out.`;
    errors.push(fault(`/checks/${index}/readWith/name`, 'unknown-option', detail));
    return check;
  });
  if (errors.length > 0) throw new ProblemError('answers-not-acceptable', nameFaults(errors), { errors });
  return resolved;
}

/** Whether a check that was made for another entry fits this car and this catalogue. */
export function canRead(check: KnownCheck, vehicle: Vehicle): boolean {
  try {
    readChecks([check], vehicle);
    return true;
  } catch (error) {
    // What cannot be read counts as not looked at, and the point is asked again.
    if (error instanceof ProblemError) return false;
    throw error;
  }
}

function seenPoints(checks: readonly KnownCheck[]): SeenPoint[] {
  return checks.flatMap(({ item, position, result }) => (result === undefined ? [] : [{ item, position, result }]));
}

function fault(pointer: string, code: string, detail: string): FieldError {
  return { pointer, code, detail, in: 'body' };
}

function placeFault(check: KnownCheck, vehicle: Vehicle, place: string): FieldError | undefined {
  const item = findItem(check.item);
  if (item === undefined) return fault(`${place}/item`, 'unknown-item', 'The catalogue has no such item.');
  if (!itemApplies(item, vehicle)) {
    return fault(`${place}/item`, 'not-applicable', 'This item does not apply to this car.');
  }
  const at = `${place}/position`;
  const positions = positionsFor(item, vehicle);
  if (check.position === undefined) {
    const needed = positions !== undefined && check.value !== undefined;
    return needed ? fault(at, 'missing', `Give one of: ${positions.join(', ')}.`) : undefined;
  }
  if (positions === undefined) return fault(at, 'unknown-position', 'This item has no positions.');
  if (positions.includes(check.position)) return undefined;
  // Seen by wheel, asked by pad or tread zone: looking at the wheel is looking at all of it.
  const wheels: readonly string[] = POSITION_KEYS.wheel;
  const byWheel = check.result !== undefined && wheels.includes(check.position);
  if (byWheel && positions.some((position) => position.startsWith(`${check.position}.`))) return undefined;
  return fault(at, 'unknown-position', `Give one of: ${positions.join(', ')}.`);
}

function atCheck(
  fault: { pointer: string; code: string; detail: string },
  check: KnownCheck,
  place: string,
): FieldError {
  // The fault's pointer starts with the item and, where there is one, the position; the rest is inside the value.
  const steps = fault.pointer.split('/').slice(check.position === undefined ? 2 : 3);
  return { pointer: [`${place}/value`, ...steps].join('/'), code: fault.code, detail: fault.detail, in: 'body' };
}

/**
 * Refuses an acceptance that the rules do not carry: what bars, what nobody looked at or measured, what was not in order.
 *
 * @throws ProblemError `bar-stands`, `points-not-checked` with what stands in the way
 */
export function assertAcceptable(
  signOff: SignOff,
  judgement: Judgement,
  checks: ReadChecks & { vehicle: Vehicle; always: readonly AlwaysLook[] },
): void {
  const bars = barringFindings(judgement.findings);
  if (bars.length > 0) {
    const titles = [...new Set(bars.map((bar) => bar.title))].join('; ');
    throw new ProblemError('bar-stands', `Not met or not known: ${titles}.`, {
      standing: bars.map(standing),
      currentState: 'barred',
    });
  }
  const unchecked = uncheckedFindings(judgement.findings, checks.checked, valuesOn(checks.vehicle));
  // a car that is not what it was said to be was asked the wrong questions: no condition carries that
  const isOther =
    checks.measured.get(AS_DESCRIBED) === false ||
    checks.seen.some(({ item, result }) => item === AS_DESCRIBED && result === 'not-ok');
  const compared = isOther ? checks.checked.filter(({ item }) => item !== AS_DESCRIBED) : checks.checked;
  const unseen = notLookedAt(checks.always, compared, checks.vehicle);
  // What was looked at and is not ok may be carried by conditions; what nobody looked at may not.
  const notOk = signOff.decision === 'accept' ? checks.seen.filter((point) => point.result === 'not-ok') : [];
  if (unchecked.length === 0 && notOk.length === 0 && unseen.length === 0) return;
  const named = [
    ...unseen.map((point) => point.title),
    ...unchecked.map(({ title, clearedBy }) => (clearedBy === 'measure' ? `${title} (a value is needed)` : title)),
    ...notOk.map((point) => `${point.item} was not ok`),
  ];
  const looks = unseen.map(({ id, title, items }) => ({ alwaysLook: id, title, items }));
  throw new ProblemError('points-not-checked', `Open: ${[...new Set(named)].join('; ')}.`, {
    standing: [...looks, ...unchecked.map(standing), ...notOk],
  });
}

/** @throws ProblemError `points-not-checked` where the car was refused for a point that has no new value or state */
export function assertLookedAtAnew(open: ReturnType<typeof stillRefused>): void {
  if (open.length === 0) return;
  const named = open.map(({ item, position }) => (position === undefined ? item : `${item} (${position})`)).join('; ');
  const detail = `The car was refused for these, and they need a new value or state: ${named}.`;
  throw new ProblemError('points-not-checked', detail, { standing: open });
}

function standing({ ruleId, title, position, message, items, clearedBy }: Finding): Record<string, unknown> {
  return {
    ruleId,
    title,
    ...(position === undefined ? {} : { position }),
    items,
    message,
    ...(clearedBy && { clearedBy }),
  };
}
