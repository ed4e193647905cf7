import { describe, expect, it } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../seed/built-in.ts';
import { findItem } from '../../../src/domain/catalogue/catalogue.ts';
import { parseAnswers } from '../../../src/domain/declaration/declaration.ts';
import { compileRuleSet } from '../../../src/domain/rules/compile/compile-rule-set.ts';
import { evaluate } from '../../../src/domain/rules/judge/evaluate.ts';
import type { Finding } from '../../../src/domain/rules/model/finding.ts';
import { typeOfAnswer } from '../../../src/domain/rules/kinds/answer.ts';
import { type Example, type Rule, RuleSet } from '../../../src/domain/rules/model/rule-set.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);

const answersOf = (raw: Example['answers'] | undefined) => {
  const parsed = parseAnswers(raw ?? {});
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.answers;
};

/** All findings of one rule in its examples. */
function findingsOf(rule: Rule): readonly Finding[] {
  const compiled = compileRuleSet({ ...ruleSet, rules: [rule] });
  const examples = ruleSet.examples.filter(({ only }) => only?.includes(rule.id));
  return examples.flatMap(
    ({ answers, measured, photos, vehicle, event, venue = {}, parameters = {}, stage = 'declaration' }) =>
      evaluate(compiled, {
        answers: answersOf(answers),
        ...(measured && { measured: answersOf(measured) }),
        ...(photos && { photos }),
        vehicle,
        event,
        venue,
        parameters,
        concessions: [],
        stage,
      }).findings,
  );
}

/** How far from its limit, in the smallest steps the item is kept with; and the value that was judged. */
function stepsOf(rule: Rule & { test: { item: string } }, findings: readonly Finding[]) {
  const item = findItem(rule.test.item);
  const type = item && typeOfAnswer(item, 'field' in rule.test ? rule.test.field : undefined);
  if (type?.kind !== 'number') throw new Error(`${rule.id} judges no number`);
  const { decimals } = type;
  return findings.flatMap(({ result, margin, measured }) =>
    margin === undefined || measured === undefined
      ? []
      : [{ result, steps: Math.round(margin.value * 10 ** decimals), value: measured.value }],
  );
}

function uncertaintySteps(test: { item: string; field?: string | undefined }): number {
  const item = findItem(test.item);
  const type = item && typeOfAnswer(item, test.field);
  if (type?.kind !== 'number' || type.uncertainty === undefined) throw new Error(`${test.item} has no uncertainty`);
  return Math.round(type.uncertainty.expanded * 10 ** type.decimals);
}

/** A rule that does not decide simply is met from U on, and doubts what is on the limit. */
function guardOf({ decision = 'simple', test }: Rule): number {
  return decision === 'simple' || !('item' in test) ? 0 : uncertaintySteps(test);
}

const numeric = ruleSet.rules.filter(({ test }) => ['limit', 'range', 'spread'].includes(test.kind));

describe('the examples of the built-in rule set, around every numeric limit', () => {
  it('are looked for in every rule that has one', () => {
    expect(numeric.length).toBeGreaterThan(35);
  });

  it.each(numeric.map((rule) => [rule.id, rule] as const))('%s', (_, rule) => {
    const { test } = rule;
    if (test.kind !== 'limit' && test.kind !== 'range' && test.kind !== 'spread') throw new Error('not numeric');
    const steps = stepsOf({ ...rule, test }, findingsOf(rule));
    const isStrict = test.kind === 'limit' && test.strict === true;
    const values = (result: string, distance: number) =>
      new Set(steps.filter((one) => one.result === result && one.steps === distance).map(({ value }) => value));
    // a range has two ends, and an example on either side of both
    const ends = test.kind === 'range' ? 2 : 1;
    const guard = guardOf(rule);
    expect(values('met', isStrict ? 1 : guard).size, 'just inside').toBeGreaterThanOrEqual(ends);
    // what the line measures is held against the limit moved by U, what was declared is doubted
    const isMeasured = findItem(test.item)?.answeredBy === 'inspector';
    const near = isMeasured ? values('not-met', -1) : values('unanswerable', guard - 1);
    expect(guard === 0 || near.size >= ends, 'too close to call').toBe(true);
    expect(values('not-met', isStrict ? 0 : -1).size, 'just outside').toBeGreaterThanOrEqual(ends);
  });
});

describe('what the built-in rule set says beside its rules', () => {
  const marked = (key: 'floor' | 'safetyCritical') => ruleSet.rules.filter((rule) => rule[key]).map(({ id }) => id);

  it('gives every rule its basis, and a source to every one that was published', () => {
    for (const { id, basis } of ruleSet.rules) {
      if (basis.kind === 'published') expect(basis.source.length, id).toBeGreaterThan(10);
    }
  });

  it('holds the floor under what no club may loosen', () => {
    expect(marked('floor')).toEqual(expect.arrayContaining(['pad-thickness-road-limit', 'tyre-cords', 'wheel-cracks']));
  });

  it('asks for a second person where brakes, steering, wheels, belts, helmets and fuel are concerned', () => {
    const critical = marked('safetyCritical');
    for (const area of [
      'brake-',
      'pad-',
      'rotor-',
      'caliper-',
      'steering-',
      'wheel-',
      'belt-',
      'harness-',
      'helmet-',
    ]) {
      expect(
        critical.filter((id) => id.startsWith(area)),
        area,
      ).not.toEqual([]);
    }
    expect(critical).toEqual(expect.arrayContaining(['fuel-cap-and-lines', 'engine-leak-drip', 'throttle-return']));
  });

  it('lets no exception stand where nothing may be excepted, and limits the rest', () => {
    const categories = ruleSet.concessionCategories ?? {};
    expect(categories['never']?.maximumDays).toBe(0);
    const inNever = ruleSet.rules.filter(({ concession }) => concession === 'never').map(({ id }) => id);
    expect(inNever).toEqual(expect.arrayContaining(['tyre-cords', 'brake-pedal-sinks', 'engine-leak-drip']));
    for (const { maximumDays } of Object.values(categories)) expect(maximumDays).toBeLessThanOrEqual(120);
  });
});
