import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Answers, parseAnswers } from '../../../../src/domain/declaration/declaration.ts';
import { checkRuleSet } from '../../../../src/domain/rules/check/check.ts';
import { type CompiledRuleSet, evaluate } from '../../../../src/domain/rules/judge/evaluate.ts';
import type { Finding, Verdict } from '../../../../src/domain/rules/model/finding.ts';
import type { Vehicle } from '../../../../src/domain/vehicle.ts';
import { arbRawAnswers, arbVehicle } from '../../../support/arbitraries.ts';
import { arbRules, arbTightened } from './rules-arbitraries.ts';
import { inputOf, makeRuleSet } from './rules-support.ts';
import { SIZE } from '../../../support/size.ts';

interface Car {
  vehicle: Vehicle;
  answers: Answers;
}

const arbCar: fc.Arbitrary<Car> = arbVehicle().chain((vehicle) =>
  arbRawAnswers(vehicle).map((raw) => {
    const parsed = parseAnswers(raw);
    return { vehicle, answers: parsed.ok ? parsed.answers : new Map() };
  }),
);
const arbStage = fc.constantFrom('declaration', 'line');

function compile(rules: unknown[]): CompiledRuleSet {
  const checked = checkRuleSet(makeRuleSet({ rules }));
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
  return checked.compiled;
}

const RANK: Readonly<Record<Verdict, number>> = { clean: 0, 'to-inspect': 1, barred: 2 };
const nameOf = ({ ruleId, position }: Finding): string => `${ruleId}@${position}`;
const byName = (findings: readonly Finding[]): Map<string, Finding> =>
  new Map(findings.map((finding) => [nameOf(finding), finding]));
const without = (answers: Answers, cell: string): Answers => new Map([...answers].filter(([key]) => key !== cell));
const RUNS = { numRuns: 150 };

/** Of a number that is hardly possible: without it the other answers count again. */
const isDoubted = ({ reliability }: Finding): boolean => reliability?.kind === 'implausible';

describe('evaluate, whatever the rules, the car and the answers', () => {
  it('never throws, and its verdict follows from its findings', () => {
    fc.assert(
      fc.property(arbRules, arbCar, arbStage, fc.boolean(), (rules, car, stage, asMeasured) => {
        const judgement = evaluate(
          compile(rules),
          inputOf({ ...car, stage, ...(asMeasured && { measured: car.answers }) }),
        );
        const heaviest = judgement.findings.map(({ counts }) => counts);
        const expected = heaviest.includes('bar') ? 'barred' : heaviest.includes('inspect') ? 'to-inspect' : 'clean';
        expect(judgement.verdict).toBe(expected);
        for (const { result, message } of judgement.findings) expect(message === '').toBe(result === 'met');
      }),
      RUNS,
    );
  });

  const { ruleSets, cars: each } = SIZE.judgements;
  it(`never throws on ${ruleSets * each} declarations under ${ruleSets} rule sets, and bars where a rule that bars has no answer`, () => {
    let judged = 0;
    const cars = fc.array(arbCar, { minLength: each, maxLength: each });
    fc.assert(
      fc.property(arbRules, cars, (rules, some) => {
        const compiled = compile(rules);
        for (const car of some) {
          const { verdict, findings } = evaluate(compiled, inputOf({ ...car, stage: 'line' }));
          // a value that is hardly what was meant is measured, not barred
          const judges = findings.filter(({ watched, reliability }) => !watched && reliability === undefined);
          const open = judges.some(({ effect, result }) => effect === 'bar' && result !== 'met');
          expect(verdict === 'barred').toBe(open);
          judged += 1;
        }
      }),
      { numRuns: ruleSets },
    );
    expect(judged).toBe(ruleSets * each);
  }, 240_000);

  it('gives the same verdict and the same findings in any order of the rules', () => {
    const shuffled = arbRules.chain((rules) =>
      fc.tuple(fc.constant(rules), fc.shuffledSubarray(rules, { minLength: rules.length })),
    );
    fc.assert(
      fc.property(shuffled, arbCar, ([rules, other], car) => {
        const one = evaluate(compile(rules), inputOf(car));
        const two = evaluate(compile(other), inputOf(car));
        expect(two.verdict).toBe(one.verdict);
        expect(byName(two.findings)).toEqual(byName(one.findings));
      }),
      RUNS,
    );
  });

  it('never turns not met into met when a limit gets tighter', () => {
    fc.assert(
      fc.property(arbTightened, arbCar, ({ loose, tight }, car) => {
        const before = byName(evaluate(compile([loose]), inputOf(car)).findings);
        const after = byName(evaluate(compile([tight]), inputOf(car)).findings);
        expect([...after.keys()]).toEqual([...before.keys()]);
        for (const [name, { result }] of before) {
          const now = after.get(name)?.result;
          // a value that was hardly what was meant may be outside of the tighter limit, too
          if (result === 'unanswerable') expect(['unanswerable', 'not-met']).toContain(now);
          else if (result === 'not-met') expect(now).toBe(result);
        }
      }),
      RUNS,
    );
  });

  it('is never barred by rules that advise, nor by rules that ask for a look', () => {
    fc.assert(
      fc.property(arbRules, arbCar, arbStage, (rules, car, stage) => {
        const withEffect = (effect: string) => rules.map((rule) => ({ ...rule, effect }));
        expect(evaluate(compile(withEffect('advise')), inputOf({ ...car, stage })).verdict).toBe('clean');
        expect(evaluate(compile(withEffect('inspect')), inputOf({ ...car, stage })).verdict).not.toBe('barred');
      }),
      RUNS,
    );
  });

  it('bars at the line when a rule that bars has no answer', () => {
    fc.assert(
      fc.property(arbRules, arbCar, (rules, car) => {
        const { verdict, findings } = evaluate(compile(rules), inputOf({ ...car, stage: 'line' }));
        // what is hardly what was meant, or lacks a record that the line reads, waits for a measurement instead
        const isOpen = findings.some(
          ({ effect, result, reliability, message }) =>
            effect === 'bar' && result !== 'met' && reliability === undefined && !message.includes('record has no'),
        );
        expect(verdict === 'barred').toBe(isOpen);
      }),
      RUNS,
    );
  });

  it('never gets better when an answer is taken away', () => {
    let removals = 0;
    fc.assert(
      fc.property(arbRules, arbCar, arbStage, fc.nat(), (rules, car, stage, pick) => {
        const compiled = compile(rules);
        const items = new Set(compiled.ruleSet.rules.flatMap((rule) => rule.items));
        const cells = [...car.answers.keys()].filter((cell) => items.has(cell.split(/[@#]/)[0] ?? ''));
        const cell = cells[pick % Math.max(cells.length, 1)];
        if (cell === undefined) return;
        removals += 1;
        const before = evaluate(compiled, inputOf({ ...car, stage }));
        const after = evaluate(compiled, inputOf({ ...car, stage, answers: without(car.answers, cell) }));
        if (!before.findings.some(isDoubted)) expect(RANK[after.verdict]).toBeGreaterThanOrEqual(RANK[before.verdict]);
        const now = byName(after.findings);
        for (const finding of before.findings.filter((one) => !isDoubted(one))) {
          const then = now.get(nameOf(finding))?.result;
          expect(finding.result === 'met' ? ['met', 'unanswerable'] : [finding.result, 'unanswerable']).toContain(then);
        }
      }),
      { numRuns: 400 },
    );
    expect(removals).toBeGreaterThan(100);
  });

  it('changes nothing but the bars of the conceded rule', () => {
    fc.assert(
      fc.property(arbRules, arbCar, fc.nat(), (rules, car, pick) => {
        const compiled = compile(rules);
        const ruleId = `rule-${pick % rules.length}`;
        const concessions = [{ ruleId, concessionId: 'c-1', expiresAt: '2026-12-01T00:00:00Z' }];
        const plain = evaluate(compiled, inputOf({ ...car, stage: 'line' }));
        const conceded = evaluate(compiled, inputOf({ ...car, stage: 'line', concessions }));
        const expected = plain.findings.map((finding) =>
          finding.ruleId !== ruleId || finding.result === 'met'
            ? finding
            : {
                ...finding,
                counts: finding.counts === 'bar' ? 'inspect' : finding.counts,
                // who granted it knew the value: the line looks, it does not measure again
                ...(finding.result === 'not-met' && { clearedBy: 'look' }),
                conceded: { concessionId: 'c-1', expiresAt: '2026-12-01T00:00:00Z' },
              },
        );
        expect(conceded.findings).toEqual(expected);
      }),
      RUNS,
    );
  });

  it('judges the same twice, and the same when everything kept from earlier cars is forgotten', () => {
    fc.assert(
      fc.property(arbRules, fc.array(arbCar, { minLength: 2, maxLength: 4 }), (rules, cars) => {
        const kept = compile(rules);
        for (const car of [...cars, ...cars]) {
          expect(evaluate(kept, inputOf(car))).toEqual(evaluate(compile(rules), inputOf(car)));
        }
      }),
      { numRuns: 40 },
    );
  });
});
