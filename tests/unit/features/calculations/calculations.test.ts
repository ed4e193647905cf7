import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type Calculation, STANDINGS, NotComputable } from '../../../../src/domain/trade/calculation.ts';
import { CALCULATIONS } from '../../../../src/domain/trade/calculations.ts';
import { operationIdOf } from '../../../../src/features/calculations/calculate.ts';
import { arbBody } from './arbitrary-bodies.ts';

const RUNS = 150;
const ALL = CALCULATIONS.map((calculation) => [calculation.name, calculation] as const);

type Outcome = 'answered' | 'refused' | 'not read';

/** What the route does with a body, without the route. Throws whatever would be a failure of the server. */
function outcomeOf(calculation: Calculation, body: unknown): Outcome {
  const read = calculation.input.safeParse(body);
  if (!read.success) return 'not read';
  try {
    const worked = calculation.compute(read.data);
    expect(calculation.result.parse(worked.result)).toEqual(worked.result);
    expect(placesNotFinite(worked, '')).toEqual([]);
    return 'answered';
  } catch (error) {
    if (!(error instanceof NotComputable)) throw error;
    expect(error.faults.length).toBeGreaterThan(0);
    for (const fault of error.faults) {
      expect(fault.pointer).toMatch(/^(?:\/[^/]+)*$/u);
      expect(fault.detail).not.toMatch(/NaN|undefined|\[object/u);
    }
    return 'refused';
  }
}

function placesNotFinite(node: unknown, at: string): string[] {
  if (typeof node === 'number') return Number.isFinite(node) ? [] : [at];
  if (typeof node === 'string') return /NaN|undefined|Infinity/u.test(node) ? [`${at}: ${node}`] : [];
  if (typeof node !== 'object' || node === null) return [];
  return Object.entries(node).flatMap(([key, part]) => placesNotFinite(part, `${at}/${key}`));
}

test('every name and operation is there once', () => {
  const names = CALCULATIONS.map(({ name }) => name);
  expect(new Set(names).size).toBe(names.length);
  expect(new Set(names.map(operationIdOf)).size).toBe(names.length);
  for (const name of names) expect(name).toMatch(/^[a-z]+(?:-[a-z]+)*$/u);
  expect(operationIdOf('tyre-age')).toBe('calculateTyreAge');
});

describe.each(ALL)('%s', (_name, calculation) => {
  test('answers its example, and names its sources with their standing', () => {
    expect(outcomeOf(calculation, calculation.example)).toBe('answered');
    expect(calculation.sources.length).toBeGreaterThan(0);
    for (const { title, standing } of calculation.sources) {
      expect(title.trim()).not.toBe('');
      expect(STANDINGS).toContain(standing);
    }
  });

  test('answers, refuses or does not read whatever it gets, and never fails', () => {
    fc.assert(
      fc.property(arbBody(calculation), (body) => {
        outcomeOf(calculation, body);
      }),
      { numRuns: RUNS },
    );
    // Bodies that all stop at the schema would test nothing. Always the same ones: by chance a few dozen may well stop there.
    const bodies = fc.sample(arbBody(calculation), { numRuns: 500, seed: 1 });
    expect(bodies.some((body) => outcomeOf(calculation, body) !== 'not read')).toBe(true);
  });
});
