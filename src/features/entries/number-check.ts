import { type LookAlike, lookAlikesOf } from '../../domain/look-alikes.ts';
import type { NumberWarning } from './schemas.ts';
import type { EnteredCar } from './store.ts';

/** What the organizer decided for an event about numbers that look alike. */
export interface NumberRules {
  lookAlikes: 'warn' | 'refuse';
  zeroTwins: 'refuse' | 'allow';
}

export interface NumberCheck {
  /** one per car whose number can be taken for this one */
  warnings: readonly NumberWarning[];
  /** those that the event does not allow beside this number; empty: it may be entered */
  refused: readonly NumberWarning[];
}

/**
 * Compares a number with those of its event. A number that the event has already is no new one, so nothing refuses it:
 * a shared car keeps its number in every run group.
 *
 * @param cars every car of the event under its number, those of this number included
 */
export function checkNumber(carNumber: string, cars: readonly EnteredCar[], rules: NumberRules): NumberCheck {
  // Two swapped digits are two numbers on a door; they are mixed up by those who type, which the gate knows.
  const warnings = lookAlikesOf(carNumber, cars)
    .filter(({ kind }) => kind !== 'swapped')
    .map((one) => ({ ...one, detail: detailOf(one) }));
  const known = cars.some((car) => car.carNumber === carNumber);
  return { warnings, refused: known ? [] : warnings.filter((one) => isRefused(one, rules)) };
}

function isRefused({ kind }: LookAlike, { lookAlikes, zeroTwins }: NumberRules): boolean {
  return kind === 'zeros' ? zeroTwins === 'refuse' : lookAlikes === 'refuse';
}

function detailOf({ carNumber, vehicle, colour, kind }: LookAlike): string {
  const car = [vehicle, colour].filter((part) => part !== undefined).join(', ');
  const named = `${carNumber}${car === '' ? '' : ` (${car})`}`;
  if (kind === 'zeros') return `Differs only by zeros from ${named}, which is entered here.`;
  if (kind === 'case') return `Differs only by capitals from ${named}, which is entered here.`;
  return `Looks like ${named}, which is entered here.`;
}
