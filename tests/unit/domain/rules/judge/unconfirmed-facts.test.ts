import { describe, expect, it } from 'vitest';
import { checkRuleSet } from '../../../../../src/domain/rules/check/check.ts';
import { evaluate, usesChange } from '../../../../../src/domain/rules/judge/evaluate.ts';
import { answersOf, CAR, inputOf, judgeOne, makeRule, makeRuleSet } from '../rules-support.ts';

const ROTOR = {
  items: ['rotor.thickness'],
  test: { kind: 'limit', item: 'rotor.thickness', atLeast: { vehicle: 'rotorMinimumThicknessMm' } },
};
const FRONT = ['FL', 'FR', 'RL', 'RR'].map((wheel) => `rotorMinimumThicknessMm.${wheel}`);

function compile(rule: Record<string, unknown>) {
  const checked = checkRuleSet(makeRuleSet({ rules: [makeRule(rule)] }));
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
  return checked.compiled;
}

/** Discs in front, one of them new, drums behind. */
function rotors(mm: number, stamp: number, unconfirmed: readonly string[]) {
  const vehicle = { ...CAR, rotor: { rear: 'drum' as const }, rotorMinimumThicknessMm: { FL: stamp, FR: stamp } };
  const answers = answersOf({ 'rotor.thickness': { FL: mm, FR: 40 } });
  return { compiled: compile(ROTOR), input: inputOf({ answers, vehicle, unconfirmed }) };
}

describe('a number of the car that nobody confirmed', () => {
  it('is read at the line where the rule would be met by it alone', () => {
    const { compiled, input } = rotors(22, 20.4, ['rotorMinimumThicknessMm.FL']);
    const { findings, verdict } = evaluate(compiled, input);
    expect(verdict).toBe('to-inspect');
    const [left, right] = findings;
    expect(left).toMatchObject({
      position: 'FL',
      result: 'unanswerable',
      counts: 'inspect',
      facts: [{ path: 'rotorMinimumThicknessMm.FL', why: 'unconfirmed' }],
    });
    expect(left?.message).toContain('the least thickness stamped on the rotor FL (20.4 mm)');
    expect(right).toMatchObject({ position: 'FR', result: 'met', counts: 'no' });
  });

  it('bars nobody before the line has read it', () => {
    const { compiled, input } = rotors(19, 20.4, FRONT);
    expect(evaluate(compiled, input).findings[0]).toMatchObject({ result: 'not-met', counts: 'inspect' });
    expect(evaluate(compiled, { ...input, unconfirmed: [] }).verdict).toBe('barred');
  });

  it('that is compared with the car as a whole lifts a bar, and asks nothing of its own where the rule is met', () => {
    const rule = {
      items: ['tyre.cold-pressure'],
      test: { kind: 'limit', item: 'tyre.cold-pressure', atLeast: { vehicle: 'coldPressurePlacardKpa' } },
    };
    const vehicle = { ...CAR, coldPressurePlacardKpa: { front: 220, rear: 220 } };
    const unconfirmed = ['coldPressurePlacardKpa.front', 'coldPressurePlacardKpa.rear'];
    const at = (kPa: number) => {
      const answers = answersOf({ 'tyre.cold-pressure': { FL: kPa, FR: kPa, RL: kPa, RR: kPa } });
      return evaluate(compile(rule), inputOf({ answers, vehicle, unconfirmed })).verdict;
    };
    expect(at(230)).toBe('clean');
    expect(at(200)).toBe('to-inspect');
  });

  it('that is missing is named with the finding', () => {
    const made = judgeOne(
      { ...ROTOR, test: { kind: 'expression', expr: 'vehicle.massKg > q(500, "kg")' }, items: ['rotor.thickness'] },
      {},
    );
    expect(made).toMatchObject({ counts: 'inspect', facts: [{ path: 'massKg', why: 'missing' }] });
  });
});

describe('a change of the car', () => {
  it('matters where a rule read the fact, and nowhere else', () => {
    const { compiled, input } = rotors(22, 20.4, []);
    const { vehicle: car } = input;
    const uses = (now: typeof car) => usesChange(compiled, input, now);
    expect(uses(car)).toBe(false);
    expect(uses({ ...car, colour: 'red', massKg: 1200 })).toBe(false);
    expect(uses({ ...car, rotorMinimumThicknessMm: { FL: 21, FR: 20.4 } })).toBe(true);
    expect(uses({ ...car, rotorMinimumThicknessMm: { FL: 20.4 } })).toBe(true);
    // nothing there yet, and read from now on
    expect(usesChange(compiled, { ...input, vehicle: CAR }, car)).toBe(true);
  });

  it('matters where a rule is asked at other places', () => {
    const { compiled, input } = rotors(22, 20.4, []);
    const now = { ...input.vehicle, rotor: { front: 'drum' as const, rear: 'drum' as const } };
    expect(usesChange(compiled, input, now)).toBe(true);
  });
});
