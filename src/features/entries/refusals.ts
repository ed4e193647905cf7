import { ProblemError } from '../../http/problem.ts';
import type { NumberCheck } from './number-check.ts';

export function numberTaken(carNumber: string): ProblemError {
  return new ProblemError('car-number-taken', `Car ${carNumber} is entered in this run group already.`, {
    errors: [{ pointer: '/carNumber', code: 'taken', detail: 'This number is taken in this run group.' }],
  });
}

/** @throws ProblemError `car-number-looks-alike`, with the numbers */
export function assertAllowed(carNumber: string, { refused }: NumberCheck): void {
  if (refused.length === 0) return;
  const [detail, ...more] = refused.map((one) => one.detail);
  const says = `Car ${carNumber} is not entered. ${[detail, ...more].join(' ')} The event does not allow that.`;
  throw new ProblemError('car-number-looks-alike', says, {
    errors: refused.map((one) => ({ pointer: '/carNumber', code: 'looks-alike', detail: one.detail })),
    lookAlikes: refused.map(({ carNumber: number, vehicle, colour, kind }) => ({
      carNumber: number,
      vehicle,
      colour,
      kind,
    })),
  });
}

export function sharedCarDiffers(carNumber: string, vehicleId: string): ProblemError {
  const detail = `Car ${carNumber} is entered in another run group with vehicle ${vehicleId}. Leave vehicle out to share it.`;
  return new ProblemError('shared-car-differs', detail, { vehicleId });
}

export function unknownReference(pointer: string, detail: string): ProblemError {
  return new ProblemError('not-acceptable', detail, { errors: [{ pointer, code: 'unknown-reference', detail }] });
}
