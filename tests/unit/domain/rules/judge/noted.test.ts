import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { goodAnswers } from '../../../../../seed/answers.ts';
import { BUILT_IN_RULE_SET } from '../../../../../seed/built-in.ts';
import { CARS } from '../../../../../seed/cars.ts';
import {
  type Answers,
  type AnswerValue,
  parseAnswers,
  type RawAnswers,
} from '../../../../../src/domain/declaration/declaration.ts';
import { askAgain, type Asked, listAsked } from '../../../../../src/domain/rules/judge/asked.ts';
import { compileRuleSet, evaluate } from '../../../../../src/domain/rules/judge/evaluate.ts';
import { changedCells, judgeAgain } from '../../../../../src/domain/rules/judge/noted.ts';
import type { JudgeInput } from '../../../../../src/domain/rules/judge/run.ts';
import { RuleSet } from '../../../../../src/domain/rules/model/rule-set.ts';
import { loadCases } from '../../../../cases/case.ts';

const EVENT = { startsOn: '2026-06-13', endsOn: '2026-06-14' };
const compiled = compileRuleSet(RuleSet.parse(BUILT_IN_RULE_SET));
/** Answers of the cases that a car in good order does not have, by item. */
const CHANGES = loadCases().flatMap(({ vehicle, answers }) => {
  const good = goodAnswers(vehicle, EVENT.startsOn);
  return Object.entries(answers).filter(([item, answer]) => JSON.stringify(answer) !== JSON.stringify(good[item]));
});
const KINDS = Object.keys(CARS) as (keyof typeof CARS)[];

const inputOf = (kind: keyof typeof CARS, answers: Answers): JudgeInput => ({
  answers,
  vehicle: CARS[kind],
  event: EVENT,
  venue: { topSpeedKmh: 210, soundLimitDb: 98 },
  unconfirmed: ['massKg'],
  photos: {},
  parameters: {},
  concessions: [],
  stage: 'declaration',
});

function read(raw: RawAnswers): Answers | undefined {
  const parsed = parseAnswers(raw);
  return parsed.ok ? parsed.answers : undefined;
}

/** A draft that grows and changes: each time some answers are set as one of the cases has them, or taken away. */
const arbDrafts = fc.record({
  kind: fc.constantFrom(...KINDS),
  isEmpty: fc.boolean(),
  steps: fc.array(
    fc.array(fc.record({ change: fc.nat(CHANGES.length - 1), isGone: fc.boolean() }), { minLength: 1, maxLength: 3 }),
    { minLength: 1, maxLength: 6 },
  ),
});

/** The drafts that can be read, in the order in which they are saved. */
function draftsOf({ kind, isEmpty, steps }: typeof arbDrafts extends fc.Arbitrary<infer Made> ? Made : never) {
  let raw: RawAnswers = isEmpty ? {} : goodAnswers(CARS[kind], EVENT.startsOn);
  const all = [read(raw)];
  for (const step of steps) {
    for (const { change, isGone } of step) {
      const [item = '', answer] = CHANGES[change] ?? [];
      const next = { ...raw, [item]: isGone ? null : answer };
      if (read(next) !== undefined) raw = next;
    }
    all.push(read(raw));
  }
  return all.flatMap((answers) => (answers === undefined ? [] : [answers]));
}

describe('a draft that is judged from the one before', () => {
  test('is judged as if it were the first', () => {
    expect(CHANGES.length).toBeGreaterThan(100);
    let taken = 0;
    fc.assert(
      fc.property(arbDrafts, (drafts) => {
        let before: ReturnType<typeof judgeAgain>['gone'] | undefined;
        for (const answers of draftsOf(drafts)) {
          const input = inputOf(drafts.kind, answers);
          const { judgement, gone } = judgeAgain(compiled, input, before);
          expect(judgement).toEqual(evaluate(compiled, input));
          const last = before;
          if (last !== undefined) taken += gone.steps.filter((step, index) => step === last.steps[index]).length;
          before = gone;
        }
      }),
      { numRuns: 60 },
    );
    // else it was judged anew each time, and nothing was shown
    expect(taken).toBeGreaterThan(1000);
  });

  test('is asked the same as if it were the first', () => {
    let kept = 0;
    fc.assert(
      fc.property(arbDrafts, (drafts) => {
        let before: Asked | undefined;
        for (const answers of draftsOf(drafts)) {
          const input = inputOf(drafts.kind, answers);
          const asked = askAgain(compiled, input, before);
          expect(asked.asked).toEqual(listAsked(compiled, input));
          if (asked.asked === before?.asked) kept += 1;
          before = asked;
        }
      }),
      { numRuns: 40 },
    );
    expect(kept).toBeGreaterThan(5);
  });

  test('takes another car as the first', () => {
    const answers = read(goodAnswers(CARS.coupe, EVENT.startsOn)) ?? new Map();
    const { gone } = judgeAgain(compiled, inputOf('coupe', answers), undefined);
    const other = inputOf('hatch', answers);
    expect(judgeAgain(compiled, other, gone).judgement).toEqual(evaluate(compiled, other));
  });
});

test('cells have changed that have another answer, one for the first time, or none any more', () => {
  const before = new Map<string, AnswerValue>(Object.entries({ a: 1, b: 2, c: 3, chosen: ['x'], other: ['x'] }));
  const after = new Map<string, AnswerValue>(Object.entries({ a: 1, b: 4, d: 5, chosen: ['x'], other: ['y'] }));
  expect([...changedCells(before, after)].toSorted()).toEqual(['b', 'c', 'd', 'other']);
});
