import { describe, expect, it } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../seed/built-in.ts';
import { SETTINGS } from '../../../seed/examples/settings.ts';
import { makeRuleSet } from '../../../seed/make-rule-set.ts';
import { CATALOGUE, findItem } from '../../../src/domain/catalogue/catalogue.ts';
import { AREAS } from '../../../src/domain/catalogue/item.ts';
import { checkRuleSet } from '../../../src/domain/rules/check/check.ts';
import { evaluate } from '../../../src/domain/rules/judge/evaluate.ts';
import { compileRuleSet } from '../../../src/domain/rules/compile/compile-rule-set.ts';
import { type Example, type Rule, RuleSet } from '../../../src/domain/rules/model/rule-set.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);
const judgedBy = (rule: Rule): readonly string[] => (rule.test.kind === 'expression' ? rule.items : [rule.test.item]);
const examplesOf = (id: string): Example[] => ruleSet.examples.filter((example) => example.only?.includes(id));
const resultsOf = (id: string) => new Set(examplesOf(id).map((example) => example.findings?.[id]));

describe('the built-in rule set', () => {
  it('passes the check that publishing runs, with all its examples', () => {
    const checked = checkRuleSet(BUILT_IN_RULE_SET);
    expect(checked.ok ? [] : checked.faults).toEqual([]);
    expect(ruleSet.rules.length).toBeGreaterThanOrEqual(203);
    expect(ruleSet.examples.length).toBeGreaterThanOrEqual(660);
  });

  it('judges every catalogue item', () => {
    const judged = new Set(ruleSet.rules.flatMap(judgedBy));
    // whether something is new is asked so that answers can be held against those of last time: no rule reads it
    const unread = ['pad.new-since-last', 'tyre.new-since-last'];
    expect(CATALOGUE.map((item) => item.key).filter((key) => !judged.has(key))).toEqual(unread);
    const areas = new Set([...judged].map((key) => findItem(key)?.area));
    expect(AREAS.filter((area) => !areas.has(area))).toEqual([]);
  });

  it('shows each rule met and not met', () => {
    // Any answer meets it: without one it cannot be answered, which bars.
    const ONLY_ASKS = 'symptoms-said';
    const otherSide = (id: string) => (id === ONLY_ASKS ? 'unanswerable' : 'not-met');
    const oneSided = ruleSet.rules.filter(({ id }) => !resultsOf(id).has('met') || !resultsOf(id).has(otherSide(id)));
    expect(oneSided.map(({ id }) => id)).toEqual([]);
  });

  it('shows each rule with a condition where it does not apply', () => {
    const conditional = ruleSet.rules.filter(({ when }) => when !== undefined);
    expect(conditional.length).toBeGreaterThan(40);
    const byPosition = (rule: Rule) =>
      examplesOf(rule.id).some((one) => Object.values(one.findings ?? {}).includes('absent'));
    expect(conditional.filter((rule) => !byPosition(rule)).map(({ id }) => id)).toEqual([]);
  });

  it('is what its parts and the examples made of them give', () => {
    expect(BUILT_IN_RULE_SET).toEqual(makeRuleSet('seed/built-in'));
  });

  it('says on each parameter where its value comes from', () => {
    const silent = Object.entries(ruleSet.parameters).filter(([, { source }]) => source === undefined);
    expect(silent.map(([name]) => name)).toEqual([]);
  });

  it('names what is judged in the title: a gate that says "barred: <title>" must not sound like all is well', () => {
    const soundsFine = ruleSet.rules.filter(({ title }) => /\b(is|are|has|have) (not |no )?\w/.test(title));
    // these three name what is missing, or a condition
    const named = ['coolant-type-known', 'extinguisher-service-voluntary', 'full-inspection-advised'];
    expect(soundsFine.map(({ id }) => id).filter((id) => !named.includes(id))).toEqual([]);
    expect(new Set(ruleSet.rules.map(({ title }) => title)).size).toBe(ruleSet.rules.length);
  });
});

/** Judges one rule alone with nothing answered, in a setting in which its condition holds. */
function judgeUnanswered(rule: Rule) {
  const { applies = {} } = SETTINGS[rule.id] ?? {};
  const alone = compileRuleSet({ ...ruleSet, rules: [rule] });
  const conditionAnswers = Object.entries(applies.answers ?? {}).map(([key, value]) => [key, value as string] as const);
  return evaluate(alone, {
    answers: new Map(conditionAnswers),
    vehicle: { description: 'nothing known', damper: applies.vehicle?.damper, body: applies.vehicle?.body },
    event: { startsOn: '2026-06-13', endsOn: '2026-06-14' },
    venue: {},
    parameters: applies.parameters ?? {},
    concessions: [],
    stage: 'line',
  });
}

describe('fail closed', () => {
  // conditions on the judged answer itself: another rule, named behind, asks for that answer
  const ASKED_BY: Readonly<Record<string, string>> = {
    'steering-free-play': 'steering-free-play-rack',
    'tyre-kind': 'tyre-tread',
    'tyre-speed': 'tyre-rating-declared',
    'tyre-load-far': 'tyre-rating-declared',
    'tyre-axle-alike': 'tyre-axle-known',
    'tyre-axle-load-index': 'tyre-axle-known',
    'tyre-cold-pressure-possible': 'tyre-cold-pressure-known',
    'tyre-pressure-axle': 'tyre-cold-pressure-known',
    'tyre-cold-pressure-placard': 'tyre-cold-pressure-known',
    'wheel-thread-engagement': 'wheel-thread-known',
    // a group reads each wheel or the setting for all
    'wheel-torque-setting': 'wheel-torque',
    'wheel-play-nine-three-measured': 'wheel-play-nine-three',
    'wheel-play-twelve-six-measured': 'wheel-play-twelve-six',
    'wheel-runout': 'wheel-wobble-measured',
    'wheel-stud-turns': 'wheel-thread-known',
    'sound-level': 'sound-level-comparable',
    'closed-car-structure': 'closed-car-structure-known',
    'roll-padding': 'roll-padding-known',
    'harness-points': 'harness-points-known',
    'harness-shoulder-fixing': 'harness-fixings-known',
    'harness-slots': 'harness-fixings-known',
    'head-restraint-posts': 'head-restraint-posts-known',
    'seat-condition': 'seat-condition-known',
    'sound-near-field': 'sound-level-comparable',
    'pad-works-cold': 'pad-temperature-needed',
    'brake-fluid-wet-for-venue': 'brake-fluid-wet-minimum',
    'pad-range-for-venue': 'pad-temperature-needed',
    'pad-uneven-measured': 'pad-wear-seen-even',
    'pad-lasts-event': 'pad-thickness',
    'helmet-sa2015-listed': 'helmet-standard',
    'helmet-sa2010-listed': 'helmet-standard',
    'helmet-8860-2010-listed': 'helmet-standard',
    'harness-8853-98-listed': 'harness-standard',
    'hv-isolation': 'hv-damage-or-work',
    'hv-isolation-shown': 'hv-damage-or-work',
    'brake-fluid-boil-test': 'brake-fluid-wet-minimum',
    'brake-fluid-reading-for-venue': 'brake-fluid-wet-minimum',
    'brake-fluid-reading-not-fresh': 'brake-fluid-age',
    'brake-fluid-kind': 'brake-fluid-class-accepted',
    'clutch-fluid-kind': 'clutch-fluid-class-accepted',
    'brake-and-clutch-fluid': 'clutch-fluid-class-accepted',
    'rotor-lasts-event': 'rotor-thickness',
    'lining-thickness-riveted': 'lining-thickness-bonded',
    'lining-lasts-event': 'lining-thickness-bonded',
    'lining-axle-even': 'lining-thickness-bonded',
    'brake-fluid-pads-not-worn': 'brake-fluid-low-explained',
    'brake-fluid-wet-below-dry': 'brake-fluid-wet-minimum',
    'gearbox-fluid-leak': 'gearbox-fluid-low-explained',
    'differential-fluid-leak': 'differential-fluid-low-explained',
    'coolant-lost': 'coolant-level',
    'hv-status-light-faulty': 'hv-status-light',
    'harness-shoulder-angle-far': 'harness-shoulder-angle',
    'harness-lap-angle-far': 'harness-lap-angle',
    'felt-pulls-under-braking-mended': 'symptoms-said',
    'felt-long-pedal-after-laps-mended': 'symptoms-said',
    'felt-long-pedal-fluid-changed': 'symptoms-said',
    'felt-temperature-rising-mended': 'symptoms-said',
    'felt-oil-pressure-drops-in-corners-mended': 'symptoms-said',
    'felt-smell-of-fuel-mended': 'symptoms-said',
    'felt-smell-of-burning-mended': 'symptoms-said',
    'brake-fluid-leak': 'brake-fluid-low-explained',
    'brake-fluid-low-at-line': 'brake-fluid-low-explained',
    'clutch-fluid-low-at-line': 'clutch-fluid-low-explained',
    'clutch-fluid-leak': 'clutch-fluid-low-explained',
    'engine-leak-weep-reaches': 'engine-leak-weep',
    'felt-pulls-under-braking-put-right': 'symptoms-said',
    'felt-long-pedal-after-laps-put-right': 'symptoms-said',
    'felt-weak-brakes-when-cold-put-right': 'symptoms-said',
    'felt-temperature-rising-put-right': 'symptoms-said',
    'felt-oil-pressure-drops-in-corners-put-right': 'symptoms-said',
    'felt-smell-of-fuel-put-right': 'symptoms-said',
    'felt-smell-of-burning-put-right': 'symptoms-said',
  };
  const bars = ruleSet.rules.filter(({ effect }) => effect === 'bar');

  // they test how an answer is written that nobody needs
  const OF_FORM = ['oil-grade-form'];

  it('bars by each bar rule that has no answer, but for those whose answer another rule asks for', () => {
    const open = bars.filter((rule) => judgeUnanswered(rule).verdict !== 'barred').map(({ id }) => id);
    expect(open.sort()).toEqual([...Object.keys(ASKED_BY), ...OF_FORM].sort());
  });

  it('has those other rules, and they do not pass over a missing answer', () => {
    for (const id of new Set(Object.values(ASKED_BY))) {
      const rule = ruleSet.rules.find((one) => one.id === id);
      const venue = { soundLimitDb: 92, soundDistanceM: 20 };
      expect(rule, id).toBeDefined();
      if (rule === undefined) continue;
      const alone = compileRuleSet({ ...ruleSet, rules: [rule] });
      const event = { startsOn: '2026-06-13', endsOn: '2026-06-14' };
      const { applies = {} } = SETTINGS[id] ?? {};
      const input = {
        answers: new Map(Object.entries(applies.answers ?? {}).map(([key, value]) => [key, value as string] as const)),
        vehicle: { description: 'any' },
        event,
        venue,
        parameters: applies.parameters ?? {},
        concessions: [],
      };
      expect(evaluate(alone, { ...input, stage: 'line' }).verdict, id).not.toBe('clean');
    }
  });

  it('stops a high-voltage car of which nothing is known', () => {
    const alone = compileRuleSet({ ...ruleSet, rules: ruleSet.rules.filter(({ id }) => id.startsWith('hv-')) });
    const judgement = evaluate(alone, {
      answers: new Map(),
      vehicle: { description: 'battery car', powertrain: 'battery' },
      event: { startsOn: '2026-06-13', endsOn: '2026-06-14' },
      venue: {},
      parameters: {},
      concessions: [],
      stage: 'declaration',
    });
    expect(judgement.verdict).toBe('barred');
  });
});
