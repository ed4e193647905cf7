import { describe, expect, test } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../../seed/built-in.ts';
import { carOf } from '../../../../seed/cars.ts';
import { goodAnswers } from '../../../../seed/answers.ts';
import { CAUTIONS, type CautionId, cautionIn } from '../../../../src/domain/cautions.ts';
import { alwaysIn, pointsToCheck } from '../../../../src/domain/line/points-to-check.ts';
import { compileRuleSet, evaluate } from '../../../../src/domain/rules/judge/evaluate.ts';
import { explainRule } from '../../../../src/domain/rules/explain/explain.ts';
import { explainedIn } from '../../../../src/domain/rules/explain/explain-language.ts';
import { RuleSet } from '../../../../src/domain/rules/model/rule-set.ts';
import { findingsIn, messageIn } from '../../../../src/domain/rules/says/rule-words.ts';
import { placeOfRule, sayLimits } from '../../../../src/domain/rules/says/says.ts';
import { SYMPTOMS } from '../../../../src/domain/trade/line/symptom-triage-table.ts';
import { answersOf, inputOf } from '../rules/rules-support.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);
const compiled = compileRuleSet(ruleSet);
const vehicle = carOf('hatch');
/** A few words that only English has. */
const ENGLISH = /\b(the|is|not|and|with|of|it|this|line|declared)\b/iu;
const english = (texts: readonly string[]): string[] => [...new Set(texts.filter((text) => ENGLISH.test(text)))];

describe('in German', () => {
  test('every caution and every reason of a symptom is said in it', () => {
    const cautions = Object.keys(CAUTIONS) as CautionId[];
    expect(english(cautions.map((id) => cautionIn(id, 'de')))).toEqual([]);
    const reasons = Object.values(SYMPTOMS).flatMap(({ points }) => points.map(({ why }) => why));
    expect(reasons.filter((why) => messageIn(why, 'de') === why)).toEqual([]);
  });

  test('so is the list that an inspector works through, whole', () => {
    const answers = answersOf({
      ...goodAnswers(vehicle, '2026-11-28'),
      'debrief.symptoms': ['steps-out-under-power', 'smell-of-fuel'],
      'radiator.debris': 'some',
    });
    const { findings } = evaluate(compiled, inputOf({ answers, vehicle }));
    const points = pointsToCheck(findingsIn(findings, ruleSet, 'de'), answers, vehicle, {
      always: alwaysIn(ruleSet.alwaysLook ?? [], 'de'),
      language: 'de',
    });
    expect(points.length).toBeGreaterThan(30);
    expect(english(points.flatMap(({ label, why }) => [label, why]))).toEqual([]);
  });

  test('so is why a rule found what it found', () => {
    const answers = answersOf({
      ...goodAnswers(vehicle, '2026-11-28'),
      'radiator.debris': 'some',
      'pad.thickness': { front: { basis: 'lowest-of-axle', value: 1 }, rear: { basis: 'lowest-of-axle', value: 9 } },
    });
    const input = inputOf({ answers, vehicle });
    const { findings } = evaluate(compiled, input);
    const texts = findings
      .filter(({ result }) => result !== 'met')
      .flatMap(({ ruleId }) => {
        const what = {
          compiled,
          origins: { rules: {}, parameters: {} },
          input,
          sent: { declared: {} },
          findings,
          judged: findings,
        };
        const explained = explainRule(ruleId, what);
        const places = new Set(findings.map((one) => placeOfRule(one.ruleId, one.position)));
        const says = sayLimits(compiled, input, 'de', places);
        const told = explained && explainedIn(explained, { ruleSet, language: 'de', says });
        return [
          told?.title ?? '',
          told?.text ?? '',
          ...(told?.positions ?? []).flatMap((one) => [one.inWords, one.comparison.text, one.countsBecause]),
        ];
      });
    expect(texts.length).toBeGreaterThan(10);
    expect(english(texts)).toEqual([]);
    expect(texts.join(' ')).toContain('Angegeben: 1 mm.');
  });
});
