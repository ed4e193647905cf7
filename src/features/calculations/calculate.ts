import { CAUTIONS } from '../../domain/cautions.ts';
import { type Calculation, TradeRefusal, type Worked } from '../../domain/trade/calculation.ts';
import { ProblemError } from '../../http/problem.ts';
import type { WorkedView } from './schemas.ts';

/**
 * Runs a computation on a body that its schema has read.
 *
 * @throws ProblemError `calculation-refused` with a pointer to every value that cannot be
 */
export function calculate<I, R>(calculation: Calculation<I, R>, body: I): Worked<R> {
  try {
    return calculation.compute(body);
  } catch (error) {
    if (!(error instanceof TradeRefusal)) throw error;
    const errors = error.faults.map((fault) => ({ ...fault, in: 'body' }));
    const named = error.faults.slice(0, 3).map(({ pointer, detail }) => `${pointer || '/'}: ${detail}`);
    throw new ProblemError('calculation-refused', named.join('; '), { errors });
  }
}

/** The answer around a result: working, assumptions, cautions, sources and the caution that belongs on all of them. */
export function viewWorked<I, R>({ name, sources }: Calculation<I, R>, worked: Worked<R>): WorkedView {
  const { result, steps, assumptions, cautions } = worked;
  return { name, result, steps, assumptions, cautions, sources, caution: CAUTIONS.general.text };
}

/** Longer lists are cut in the examples of the documentation. */
const EXAMPLE_ITEMS = 6;

/** The answer to a computation's own example, its long lists cut short, for the documentation. */
export function exampleAnswer(calculation: Calculation): unknown {
  const worked = calculation.compute(calculation.input.parse(calculation.example));
  return shorten(viewWorked(calculation, worked));
}

function shorten(value: unknown): unknown {
  if (Array.isArray(value)) return value.slice(0, EXAMPLE_ITEMS).map(shorten);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([key, part]) => [key, shorten(part)]));
}
