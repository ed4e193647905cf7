import { findItem, itemApplies, positionsFor } from '../../domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../domain/catalogue/item.ts';
import { hasBasis } from '../../domain/declaration/basis.ts';
import { type Answers, parseAnswers } from '../../domain/declaration/declaration.ts';
import { isNoAnswer } from '../../domain/declaration/no-answer.ts';
import { instrumentsFor, type NamedInstrument, sameName, unitFits } from '../../domain/line/instruments.ts';
import { keepMeasured, rawOf } from '../../domain/line/measured-answers.ts';
import type { CheckedPoint, SeenPoint } from '../../domain/line/line-judgement.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { type FieldError, nameFaults, ProblemError } from '../../http/frame/problem.ts';
import type { Check, KnownCheck } from './schemas.ts';

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
  const checked = checks.map(({ item, position, value }) => ({ item, position, measured: value !== undefined }));
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
