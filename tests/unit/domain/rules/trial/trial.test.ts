import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Answers, parseAnswers } from '../../../../../src/domain/declaration/declaration.ts';
import { type CompiledRuleSet, evaluate } from '../../../../../src/domain/rules/judge/evaluate.ts';
import {
  type Finding,
  type Judgement,
  type Verdict,
  verdictOf,
} from '../../../../../src/domain/rules/model/finding.ts';
import { mergeTrials } from '../../../../../src/domain/rules/trial/trial-merge.ts';
import { openTrial, summarize } from '../../../../../src/domain/rules/trial/trial-summary.ts';
import { compareJudgements } from '../../../../../src/domain/rules/trial/trial.ts';
import type { Vehicle } from '../../../../../src/domain/vehicle.ts';
import { arbRawAnswers, arbVehicle } from '../../../../support/arbitraries.ts';
import { arbRules } from '../rules-arbitraries.ts';
import { answersOf, compileUnchecked, inputOf, makeRule, makeRuleSet } from '../rules-support.ts';

/** Unchecked: random rules may be ones that can never fail, which a rule set may not have. */
const compile = (rules: unknown[], parameters = {}): CompiledRuleSet =>
  compileUnchecked(makeRuleSet({ rules, parameters }));

function finding(overrides: Partial<Finding>): Finding {
  return {
    ruleId: 'a',
    title: 'Rule A',
    result: 'met',
    effect: 'bar',
    counts: 'no',
    items: [],
    basis: { kind: 'common-practice' },
    message: '',
    fix: '',
    ...overrides,
  };
}

const judgement = (...findings: Finding[]): Judgement => ({ verdict: verdictOf(findings), findings });
const met = finding({});
const barred = finding({ result: 'not-met', counts: 'bar', message: 'Bad' });
const inspected = finding({ result: 'not-met', counts: 'inspect', effect: 'inspect', message: 'Look' });

describe('compareJudgements', () => {
  it('names the rule, both sides of it and nothing else when one result changes', () => {
    const before = judgement(
      finding({
        position: 'FL',
        measured: { value: 4.5, unit: 'mm' },
        limit: '≥ 4 mm',
        margin: { value: 0.5, unit: 'mm' },
      }),
      finding({ position: 'FR' }),
    );
    const after = judgement(
      finding({
        position: 'FL',
        result: 'not-met',
        counts: 'bar',
        measured: { value: 4.5, unit: 'mm' },
        limit: '≥ 5 mm',
        margin: { value: -0.5, unit: 'mm' },
        message: 'Too thin',
      }),
      finding({ position: 'FR' }),
    );
    const { flipped, because, changes } = compareJudgements(before, after);
    expect(flipped).toBe(true);
    expect(because).toEqual(changes);
    expect(changes).toEqual([
      {
        ruleId: 'a',
        title: 'Rule A',
        position: 'FL',
        before: {
          result: 'met',
          counts: 'no',
          measured: { value: 4.5, unit: 'mm' },
          limit: '≥ 4 mm',
          margin: { value: 0.5, unit: 'mm' },
          message: '',
        },
        after: {
          result: 'not-met',
          counts: 'bar',
          measured: { value: 4.5, unit: 'mm' },
          limit: '≥ 5 mm',
          margin: { value: -0.5, unit: 'mm' },
          message: 'Too thin',
        },
      },
    ]);
  });

  const other = (one: Finding): Finding => ({ ...one, ruleId: 'b', title: 'Rule B' });
  const advised = finding({ result: 'not-met', counts: 'advise', effect: 'advise', message: 'Hm' });
  it.each<[string, Judgement, Judgement, string[]]>([
    ['a new bar', judgement(met, other(met)), judgement(barred, other(met)), ['a']],
    ['a new bar beside a bar that stays: no flip', judgement(met, other(barred)), judgement(barred, other(barred)), []],
    ['a bar that became a look', judgement(barred), judgement(inspected), ['a']],
    [
      'clean to barred by one bar and one look',
      judgement(met, other(met)),
      judgement(barred, other(inspected)),
      ['a', 'b'],
    ],
    [
      'barred to clean: what barred and what asked for a look',
      judgement(barred, other(inspected)),
      judgement(met, other(met)),
      ['a', 'b'],
    ],
    [
      'to-inspect to barred: the look that stays explains nothing',
      judgement(met, other(inspected)),
      judgement(barred, other(inspected)),
      ['a'],
    ],
    ['advice never explains', judgement(met, other(met)), judgement(advised, other(inspected)), ['b']],
    ['a rule that is gone', judgement(barred), judgement(), ['a']],
    ['a rule that is new', judgement(), judgement(barred), ['a']],
  ])('explains %s', (_what, before, after, because) => {
    const comparison = compareJudgements(before, after);
    expect(comparison.because.map((change) => change.ruleId)).toEqual(because);
    expect(comparison.flipped).toBe(before.verdict !== after.verdict);
  });

  it('tells a changed effect even where the result stays', () => {
    const { changes, flipped } = compareJudgements(judgement(barred), judgement({ ...barred, counts: 'inspect' }));
    expect(flipped).toBe(true);
    expect(changes.map(({ before, after }) => [before?.counts, after?.counts])).toEqual([['bar', 'inspect']]);
  });
});

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

const WORST = ['not-met', 'unanswerable', 'met'] as const;
const worstOf = (findings: readonly Finding[], ruleId: string) =>
  WORST.find((result) => findings.some((one) => one.ruleId === ruleId && one.result === result));

describe('a trial, whatever the rules and the cars', () => {
  const runs = fc.tuple(arbRules, arbRules, fc.array(arbCar, { minLength: 1, maxLength: 6 }));

  it('flips exactly where verdicts differ, and says by which rule', () => {
    fc.assert(
      fc.property(runs, ([first, second, cars]) => {
        const [before, after] = [compile(first), compile(second)];
        for (const car of cars) {
          const [was, is] = [evaluate(before, inputOf(car)), evaluate(after, inputOf(car))];
          const comparison = compareJudgements(was, is);
          expect(comparison.flipped).toBe(was.verdict !== is.verdict);
          expect(comparison.because.length > 0).toBe(comparison.flipped);
          // without its causes the verdict would not have moved that way
          const causes = new Set(comparison.because.map(({ ruleId, position }) => `${ruleId}@${position}`));
          const rest = (all: readonly Finding[]) => all.filter((one) => !causes.has(`${one.ruleId}@${one.position}`));
          const rank = (verdict: Verdict) => ['clean', 'to-inspect', 'barred'].indexOf(verdict);
          const [a, b] = [verdictOf(rest(was.findings)), verdictOf(rest(is.findings))];
          if (rank(is.verdict) > rank(was.verdict)) expect(rank(b)).toBeLessThanOrEqual(rank(was.verdict));
          else expect(rank(a)).toBeLessThanOrEqual(Math.max(rank(is.verdict), rank(was.verdict)));
        }
      }),
      { numRuns: 100 },
    );
  });

  it('counts what a count by hand counts', () => {
    fc.assert(
      fc.property(runs, ([first, second, cars]) => {
        const [before, after] = [compile(first), compile(second)];
        const cases = cars.map((car, subject) => ({
          subject,
          before: evaluate(before, inputOf(car)),
          after: evaluate(after, inputOf(car)),
        }));
        const { totals, rules, flips } = summarize(after.ruleSet, cases);
        const flipped = cases.filter((one) => one.before.verdict !== one.after.verdict);
        expect(totals.judged).toBe(cases.length);
        expect(totals.flipped).toBe(flipped.length);
        expect(totals.newlyBarred + totals.newlyToInspect + totals.newlyClean).toBe(totals.flipped);
        expect(totals.newlyBarred).toBe(flipped.filter((one) => one.after.verdict === 'barred').length);
        expect(flips.map((flip) => flip.subject)).toEqual(flipped.map((one) => one.subject));
        for (const rule of rules) {
          const pairs = cases.map((one) => [
            worstOf(one.before.findings, rule.ruleId),
            worstOf(one.after.findings, rule.ruleId),
          ]);
          const count = (keep: (was: string | undefined, is: string | undefined) => boolean) =>
            pairs.filter(([was, is]) => keep(was, is)).length;
          expect(rule).toMatchObject({
            met: count((_, is) => is === 'met'),
            notMet: count((_, is) => is === 'not-met'),
            unanswerable: count((_, is) => is === 'unanswerable'),
            newlyNotMet: count((was, is) => is === 'not-met' && was !== 'not-met'),
            newlyUnanswerable: count((was, is) => is === 'unanswerable' && was !== 'unanswerable'),
            newlyMet: count((was, is) => is === 'met' && (was === 'not-met' || was === 'unanswerable')),
            noLongerJudged: count((was, is) => was !== undefined && is === undefined),
          });
        }
        const judged = new Set(
          cases.flatMap((one) => [...one.before.findings, ...one.after.findings]).map((f) => f.ruleId),
        );
        const listed = rules.map((rule) => rule.ruleId);
        expect(listed).toEqual(expect.arrayContaining([...judged, ...after.ruleSet.rules.map((rule) => rule.id)]));
        expect(new Set(listed).size).toBe(listed.length);
      }),
      { numRuns: 100 },
    );
  });
});

describe('parts of a trial put together', () => {
  const bounds = { flips: 2, changesPerFlip: 2, nearest: 2, nearestPerRule: 1 };
  const runs = fc.tuple(arbRules, arbRules, fc.array(arbCar, { maxLength: 6 }), fc.array(arbCar, { maxLength: 6 }));

  it('say what one trial of all says, wherever it is cut', () => {
    fc.assert(
      fc.property(runs, ([first, second, ...parts]) => {
        const [before, after] = [compile(first), compile(second)];
        const cases = parts.map((cars, part) =>
          cars.map((car, at) => ({
            subject: `${part} ${at}`,
            before: evaluate(before, inputOf(car)),
            after: evaluate(after, inputOf(car)),
          })),
        );
        const sum = (some: (typeof cases)[number]) => summarize(after.ruleSet, some, bounds);
        const [one, other] = cases.map(sum);
        if (one === undefined || other === undefined) throw new Error('two parts');
        const judgedAny = ({ met, notMet, unanswerable, noLongerJudged }: (typeof other.rules)[number]) =>
          met + notMet + unanswerable + noLongerJudged > 0;
        const short = { ...other, rules: other.rules.filter(judgedAny) };
        expect(mergeTrials(one, short, bounds)).toEqual(sum(cases.flat()));
      }),
      { numRuns: 100 },
    );
  });
});

describe('what a trial keeps', () => {
  const PAD = makeRule({
    id: 'pad',
    items: ['pad.thickness'],
    test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'padMinimum' } },
  });
  const padRules = (minimum: number) =>
    compile([PAD], { padMinimum: { value: minimum, unit: 'mm', meaning: 'Least friction material' } });
  const POSITIONS = ['FL.in', 'FL.out', 'FR.in', 'FR.out', 'RL.in', 'RL.out', 'RR.in', 'RR.out'];
  const padsOf = (thinnest: number) =>
    answersOf({ 'pad.thickness': Object.fromEntries(POSITIONS.map((at, i) => [at, i === 0 ? thinnest : 9])) });
  const judge = (rules: CompiledRuleSet, thinnest: number) => evaluate(rules, inputOf({ answers: padsOf(thinnest) }));
  const [four, five] = [padRules(4), padRules(5)];

  // 84 cars whose thinnest pads are 3.0, 3.1, … 11.3 mm. By hand: under 4 mm are 3.0 to 3.9 (10 cars), under 5 mm are
  // 3.0 to 4.9 (20 cars), so raising the limit from 4 to 5 mm bars 10 more.
  const fleet = Array.from({ length: 84 }, (_, i) => (30 + i) / 10);

  it('counts cars, not positions: raising the pad minimum from 4 to 5 mm bars ten more of 84 cars', () => {
    const tally = openTrial<number>(five.ruleSet);
    for (const thinnest of fleet) tally.add(thinnest, judge(four, thinnest), judge(five, thinnest));
    const { totals, rules, flips, nearest, truncated } = tally.summary();
    expect(totals).toEqual({
      judged: 84,
      flipped: 10,
      newlyBarred: 10,
      newlyToInspect: 0,
      newlyClean: 0,
      before: { barred: 10, 'to-inspect': 0, clean: 74 },
      after: { barred: 20, 'to-inspect': 0, clean: 64 },
    });
    expect(rules[0]).toMatchObject({ met: 64, notMet: 20, newlyNotMet: 10, newlyMet: 0, unanswerable: 0, flips: 10 });
    expect(flips.map((flip) => flip.subject)).toEqual([4, 4.1, 4.2, 4.3, 4.4, 4.5, 4.6, 4.7, 4.8, 4.9]);
    // |margin| / limit: 5.0 is on the limit, 5.1 lies 0.1 of 5 mm inside, 4.9 as far outside
    expect(rules[0]?.nearest.met.map((near) => [near.measured, near.relative])).toEqual([
      [5, 0],
      [5.1, expect.closeTo(0.02, 12)],
      [5.2, expect.closeTo(0.04, 12)],
    ]);
    expect(rules[0]?.nearest.notMet.map((near) => near.measured)).toEqual([4.9, 4.8, 4.7]);
    expect(nearest.notMet).toHaveLength(20);
    expect(nearest.met).toHaveLength(50);
    expect(truncated).toEqual({ flips: false, nearest: true });
  });

  it('keeps no more than its bounds and says so; the numbers are of all', () => {
    const bounds = { flips: 3, changesPerFlip: 2, nearest: 2, nearestPerRule: 1 };
    const cases = fleet.map((thinnest) => ({
      subject: thinnest,
      before: judge(four, thinnest),
      after: evaluate(five, inputOf({ answers: answersOf({ 'pad.thickness': { 'FL.in': thinnest } }) })),
    }));
    const { totals, flips, nearest, truncated } = summarize(five.ruleSet, cases, bounds);
    expect(totals.flipped).toBe(74);
    // the first cars flip by their thinnest pad and by seven positions without an answer: eight changes, two listed
    expect(flips.map((flip) => [flip.subject, flip.because.length, flip.moreChanges])).toEqual([
      [4, 2, 6],
      [4.1, 2, 6],
      [4.2, 2, 6],
    ]);
    expect([nearest.met.length, nearest.notMet.length]).toEqual([2, 2]);
    expect(truncated).toEqual({ flips: true, nearest: true });
  });

  it('lists a rule that judges no car, one that is gone and one on watch', () => {
    const watched = compile(
      [
        { ...PAD, id: 'watched', watch: true },
        makeRule({
          id: 'fluid',
          items: ['brake.pedal'],
          when: 'false',
          test: { kind: 'one-of', item: 'brake.pedal', values: ['firm'] },
        }),
      ],
      {
        padMinimum: { value: 5, unit: 'mm', meaning: 'Least friction material' },
      },
    );
    const { totals, rules } = summarize(watched.ruleSet, [
      { subject: 1, before: judge(four, 3), after: judge(watched, 3) },
    ]);
    expect(rules.map(({ ruleId, gone, watched: onWatch }) => [ruleId, gone, onWatch])).toEqual([
      ['watched', undefined, true],
      ['fluid', undefined, undefined],
      ['pad', true, undefined],
    ]);
    expect(rules[0]).toMatchObject({ notMet: 1, newlyNotMet: 1, flips: 0 });
    expect(rules[1]).toMatchObject({ met: 0, notMet: 0, unanswerable: 0 });
    expect(rules[2]).toMatchObject({ noLongerJudged: 1, flips: 1 });
    expect(totals).toMatchObject({ newlyClean: 1, flipped: 1 });
  });
});
