import { expect } from 'vitest';
import {
  type Calculation,
  type TradeFault,
  NotComputable,
  type Worked,
} from '../../../../src/domain/trade/calculation.ts';

/**
 * Runs a computation as the API does: body through the input schema, result through the result schema with nothing
 * left over, at least one step and every step with its numbers.
 */
export function runCalculation<I, R>(calculation: Calculation<I, R>, body: unknown): Worked<R> {
  const worked = calculation.compute(calculation.input.parse(body));
  expect(calculation.result.parse(worked.result)).toEqual(worked.result);
  expect(worked.steps.length).toBeGreaterThan(0);
  for (const step of worked.steps) {
    const text = [step.what, step.formula, step.numbers, step.result].join(' ');
    expect(text).not.toMatch(/NaN|undefined|Infinity|null/u);
  }
  return worked;
}

/** The faults a computation refuses with; fails when it does not refuse. */
export function faultsOf(run: () => unknown): readonly TradeFault[] {
  try {
    run();
  } catch (error) {
    if (error instanceof NotComputable) return error.faults;
    throw error;
  }
  throw new Error('it did not refuse');
}
