import { findItem, itemApplies, positionsFor } from '../../domain/catalogue/catalogue.ts';
import { POSITION_KEYS } from '../../domain/catalogue/item.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { type FieldError, nameFaults, ProblemError } from '../../http/problem.ts';

/**
 * Checks that the car has what a photo is said to show. The position may be left out (a photo of all of it), and a wheel
 * stands for what is asked at several places of it.
 *
 * @throws ProblemError `not-acceptable`
 */
export function assertPlace(item: string, position: string | undefined, vehicle: Vehicle): void {
  const fault = placeFault(item, position, vehicle);
  if (fault === undefined) return;
  throw new ProblemError('not-acceptable', `In the query: ${nameFaults([fault])}`, { errors: [fault] });
}

function placeFault(key: string, position: string | undefined, vehicle: Vehicle): FieldError | undefined {
  const item = findItem(key);
  if (item === undefined) return fault('/item', 'unknown-item', 'The catalogue has no such item.');
  if (!itemApplies(item, vehicle)) return fault('/item', 'not-applicable', 'This item does not apply to this car.');
  if (position === undefined) return undefined;
  const positions = positionsFor(item, vehicle);
  if (positions === undefined) return fault('/position', 'unknown-position', 'This item has no positions.');
  const wheels: readonly string[] = POSITION_KEYS.wheel;
  const isWheel = wheels.includes(position) && positions.some((one) => one.startsWith(`${position}.`));
  if (isWheel || positions.includes(position)) return undefined;
  return fault('/position', 'unknown-position', `Give one of: ${positions.join(', ')}.`);
}

function fault(pointer: string, code: string, detail: string): FieldError {
  return { pointer, code, detail, in: 'query' };
}
