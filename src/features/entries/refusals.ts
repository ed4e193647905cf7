import { ProblemError } from '../../http/problem.ts';

export function numberTaken(carNumber: string): ProblemError {
  return new ProblemError('car-number-taken', `Car ${carNumber} is entered in this run group already.`, {
    errors: [{ pointer: '/carNumber', code: 'taken', detail: 'This number is taken in this run group.' }],
  });
}

export function sharedCarDiffers(carNumber: string, vehicleId: string): ProblemError {
  const detail = `Car ${carNumber} is entered in another run group with vehicle ${vehicleId}. Leave vehicle out to share it.`;
  return new ProblemError('shared-car-differs', detail, { vehicleId });
}

export function unknownReference(pointer: string, detail: string): ProblemError {
  return new ProblemError('not-acceptable', detail, { errors: [{ pointer, code: 'unknown-reference', detail }] });
}
