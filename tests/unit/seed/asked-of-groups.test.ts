import { describe, expect, it } from 'vitest';
import { BUILT_IN_RULE_SET, PROFILE_NAMES, PROFILES, type ProfileName } from '../../../seed/built-in.ts';
import { goodAnswers } from '../../../seed/answers.ts';
import { type CarKind, carOf } from '../../../seed/cars.ts';
import { findItem } from '../../../src/domain/catalogue/catalogue.ts';
import { type Answers, parseAnswers, parseCellKey } from '../../../src/domain/declaration/declaration.ts';
import { alwaysLook } from '../../../src/domain/line/line-judgement.ts';
import { listAsked, stillOpen } from '../../../src/domain/rules/judge/asked.ts';
import { compileRuleSet, evaluate } from '../../../src/domain/rules/judge/evaluate.ts';
import type { JudgeInput } from '../../../src/domain/rules/judge/run.ts';
import { RuleSet } from '../../../src/domain/rules/model/rule-set.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);
const compiled = compileRuleSet(ruleSet);
const ORDINARY = ['coupe', 'hatch', 'saloon', 'drumHatch', 'classic'] as const satisfies readonly CarKind[];

const inputOf = (car: CarKind, group: ProfileName, answers: Answers): JudgeInput => ({
  answers,
  vehicle: carOf(car),
  event: { startsOn: '2026-06-13', endsOn: '2026-06-14' },
  venue: {},
  parameters: PROFILES[group],
  concessions: [],
  stage: 'declaration',
});
const asked = (car: CarKind, group: ProfileName, raw: Record<string, unknown> = {}): string[] => {
  const parsed = parseAnswers(raw);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return listAsked(compiled, inputOf(car, group, parsed.answers)).map(({ cell }) => cell);
};
const isTyped = (cell: string): boolean => {
  const { key, field } = parseCellKey(cell);
  const answer = findItem(key)?.answer;
  const type = answer?.kind === 'fields' ? answer.fields[field ?? '']?.type : answer;
  return type?.kind === 'number' || type?.kind === 'text';
};
/** The answers that bring up most in an ordinary car: nothing is wrong with it. */
const USUAL = {
  'brake-fluid.class': 'DOT 4',
  'tyre.kind': 'road',
  'tyre.axle-marking': { basis: 'each-place', value: { same: true } },
  'pad.even': { basis: 'each-place', value: true },
  'wheel.fitting': 'as-the-maker-fitted',
};

describe('what the built-in profiles ask', () => {
  // how much a person answers in ten minutes in a paddock: common practice, no source
  it.each(ORDINARY)('of a novice with an ordinary car (%s): at most 75 answers, 25 of them typed', (car) => {
    for (const cells of [asked(car, 'novice'), asked(car, 'novice', USUAL)]) {
      expect(cells.length).toBeLessThanOrEqual(75);
      expect(cells.filter(isTyped).length).toBeLessThanOrEqual(25);
      // it is no empty form either: all that can hurt is asked
      expect(cells.length).toBeGreaterThan(60);
    }
  });

  it('is more from group to group, and each place is measured from advanced on', () => {
    const counts = PROFILE_NAMES.map((group) => asked('coupe', group).length);
    expect(counts).toEqual(counts.toSorted((a, b) => a - b));
    expect(asked('coupe', 'advanced').filter((cell) => cell.startsWith('pad.thickness@'))).toHaveLength(8);
    expect(asked('coupe', 'intermediate').filter((cell) => cell.startsWith('pad.thickness@'))).toHaveLength(2);
  });

  it.each(ORDINARY)('leaves out nothing that bars and that the line does not look at in any case (%s)', (car) => {
    const keys = new Set(asked(car, 'novice').map((cell) => parseCellKey(cell).key));
    const vehicle = carOf(car);
    for (const { items } of alwaysLook({ ruleSet, parameters: PROFILES.novice }, vehicle)) {
      for (const item of items) keys.add(item);
    }
    // in force for a declaration without an answer
    const { findings } = evaluate(compiled, inputOf(car, 'novice', new Map()));
    const bars = findings.filter(({ effect }) => effect === 'bar');
    expect(bars.length).toBeGreaterThan(60);
    const open = bars.filter(({ items }) => !items.some((item) => keys.has(item)));
    expect([...new Set(open.map(({ ruleId }) => ruleId))]).toEqual([]);
  });

  it.each(ORDINARY)('is enough: who answers it, and nothing else, is not barred (%s)', (car) => {
    const good = goodAnswers(carOf(car), '2026-06-13');
    for (const group of PROFILE_NAMES) {
      let raw: Record<string, unknown> = {};
      for (let round = 0; round < 4; round += 1) {
        const keys = new Set(asked(car, group, raw).map((cell) => parseCellKey(cell).key));
        raw = Object.fromEntries(Object.entries(good).filter(([key]) => keys.has(key)));
      }
      const parsed = parseAnswers(raw);
      if (!parsed.ok) throw new Error('not parsed');
      const { findings } = evaluate(compiled, inputOf(car, group, parsed.answers));
      expect(
        findings.filter(({ counts }) => counts === 'bar').map(({ ruleId }) => ruleId),
        group,
      ).toEqual([]);
      const open = stillOpen(listAsked(compiled, inputOf(car, group, parsed.answers)), parsed.answers);
      expect(
        open.map(({ cell }) => cell),
        group,
      ).toEqual([]);
    }
  });
});
