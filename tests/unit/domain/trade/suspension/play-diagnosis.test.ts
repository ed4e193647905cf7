import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { NotComputable } from '../../../../../src/domain/trade/calculation.ts';
import {
  diagnosePlay,
  FELT,
  PLAY_DIAGNOSIS,
  type PlayChecks,
  SEEN_AT,
  WITH_BRAKE,
} from '../../../../../src/domain/trade/suspension/play-diagnosis.ts';

const compute = (input: unknown) => PLAY_DIAGNOSIS.compute(PLAY_DIAGNOSIS.input.parse(input));
const faultsOf = (input: unknown) => {
  try {
    compute(input);
  } catch (error) {
    if (error instanceof NotComputable) return error.faults.map(({ pointer, code }) => `${pointer} ${code}`);
    throw error;
  }
  return [];
};
const maybe = <T extends string>(values: readonly T[]) => fc.constantFrom<T | undefined>(undefined, ...values);
const arbChecks: fc.Arbitrary<PlayChecks> = fc.record({
  nineThree: maybe(FELT),
  twelveSix: maybe(FELT),
  brakeApplied: maybe(WITH_BRAKE),
  seenAt: maybe(SEEN_AT),
  axle: maybe(['front', 'rear'] as const),
});

// Which joint shows in which check is common practice, no source.
describe('diagnosePlay', () => {
  it.each<[PlayChecks, string, string]>([
    [{ nineThree: 'felt', twelveSix: 'none' }, 'narrow-down', 'outer tie rod end'],
    [{ nineThree: 'felt', twelveSix: 'none', axle: 'rear' }, 'narrow-down', 'outer joint of the toe link'],
    [{ nineThree: 'none', twelveSix: 'felt' }, 'narrow-down', 'wheel bearing'],
    [{ nineThree: 'none', twelveSix: 'felt', brakeApplied: 'goes' }, 'found', 'wheel bearing'],
    [{ nineThree: 'none', twelveSix: 'felt', brakeApplied: 'stays' }, 'narrow-down', 'lower ball joint'],
    [{ nineThree: 'felt', twelveSix: 'felt' }, 'narrow-down', 'wheel bearing'],
    [{ nineThree: 'felt', twelveSix: 'felt', brakeApplied: 'goes' }, 'found', 'wheel bearing'],
    [{ nineThree: 'felt', twelveSix: 'felt', brakeApplied: 'stays' }, 'narrow-down', 'lower ball joint'],
    [{ nineThree: 'felt', twelveSix: 'none', seenAt: 'tie-rod-inner' }, 'found', 'inner tie rod end'],
  ])('reads %j', (checks, status, first) => {
    const diagnosis = diagnosePlay(checks);
    expect([diagnosis.status, diagnosis.parts[0]]).toEqual([status, first]);
  });

  it('looks at the outer joint before the inner one', () => {
    const { parts, text } = diagnosePlay({ nineThree: 'felt', twelveSix: 'none' });
    expect(parts.slice(0, 2)).toEqual(['outer tie rod end', 'inner tie rod end']);
    expect(text).toContain('set the alignment again');
  });

  it('takes the bearing out when the play stays with the brake held', () => {
    for (const nineThree of FELT) {
      const { parts } = diagnosePlay({ nineThree, twelveSix: 'felt', brakeApplied: 'stays' });
      expect(parts).not.toContain('wheel bearing');
    }
  });

  it('asks for the brake when it was not tried, and for the check that is missing', () => {
    expect(diagnosePlay({ nineThree: 'none', twelveSix: 'felt' }).text).toContain('holds the brake');
    expect(diagnosePlay({ twelveSix: 'felt' }).text).toContain('9 and 3 as well');
    expect(diagnosePlay({ nineThree: 'felt' }).text).toContain('12 and 6 as well');
  });

  it('reads no play only when both checks were made', () => {
    fc.assert(
      fc.property(arbChecks, (checks) => {
        const { status, parts, text } = diagnosePlay(checks);
        expect(text.length).toBeGreaterThan(10);
        const felt = checks.nineThree === 'felt' || checks.twelveSix === 'felt';
        expect(status === 'no-play').toBe(checks.nineThree === 'none' && checks.twelveSix === 'none');
        expect(parts.length > 0).toBe(felt);
        if (status === 'found') expect(parts).toHaveLength(1);
      }),
    );
  });
});

describe('play-diagnosis', () => {
  it('works its example and compares what was measured', () => {
    expect(compute(PLAY_DIAGNOSIS.example).result).toMatchObject({
      status: 'found',
      parts: ['wheel bearing'],
      linkageOverLimit: null,
      bearingOverLimit: false,
    });
    const { result, steps } = compute({
      nineThree: 'felt',
      nineThreeMm: { value: 0.3, unit: 'in' },
      twelveSix: 'none',
    });
    expect(result).toMatchObject({ linkageOverLimit: true, bearingOverLimit: null });
    expect(steps[0]?.numbers).toBe('7.6 mm ≤ 6.35 mm');
    expect(compute({ nineThree: 'felt', nineThreeMm: { value: 0.25, unit: 'in' } }).result.linkageOverLimit).toBe(
      false,
    );
  });

  it.each([
    [{}, ['/nineThree nothing-checked']],
    [{ nineThree: 'none', nineThreeMm: 2 }, ['/nineThreeMm contradiction']],
    [{ nineThree: 'none', twelveSixMm: 2 }, ['/twelveSixMm contradiction']],
    [{ nineThree: 'felt', brakeApplied: 'goes' }, ['/brakeApplied no-play']],
    [
      { nineThree: 'none', twelveSix: 'none', seenAt: 'hub', brakeApplied: 'goes' },
      ['/brakeApplied no-play', '/seenAt no-play'],
    ],
  ])('refuses %j', (input, expected) => {
    expect(faultsOf(input)).toEqual(expected);
  });
});
