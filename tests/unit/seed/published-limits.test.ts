import { describe, expect, it } from 'vitest';
import { BUILT_IN_RULE_SET } from '../../../seed/built-in.ts';
import { parseAnswers, type RawAnswers } from '../../../src/domain/declaration/declaration.ts';
import { compileRuleSet } from '../../../src/domain/rules/compile/compile-rule-set.ts';
import { evaluate } from '../../../src/domain/rules/judge/evaluate.ts';
import type { Result } from '../../../src/domain/rules/model/finding.ts';
import { type ParameterOverride, RuleSet } from '../../../src/domain/rules/model/rule-set.ts';
import type { Vehicle } from '../../../src/domain/vehicle.ts';

const ruleSet = RuleSet.parse(BUILT_IN_RULE_SET);

interface Given {
  endsOn?: string;
  vehicle?: Partial<Vehicle>;
  parameters?: Record<string, ParameterOverride>;
}

/** Judges one rule; the worst of its positions that were answered counts. */
function judge(ruleId: string, answers: RawAnswers, given: Given = {}): Result | 'absent' {
  const rule = ruleSet.rules.find(({ id }) => id === ruleId);
  if (rule === undefined) throw new Error(`no rule ${ruleId}`);
  const parsed = parseAnswers(answers);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  const endsOn = given.endsOn ?? '2026-06-14';
  const { findings } = evaluate(compileRuleSet({ ...ruleSet, rules: [rule] }), {
    answers: parsed.answers,
    vehicle: { description: 'any', ...given.vehicle },
    event: { startsOn: endsOn, endsOn },
    venue: {},
    parameters: given.parameters ?? {},
    concessions: [],
    stage: 'line',
  });
  const judged = findings.filter(({ measured }) => measured !== undefined || rule.test.kind === 'expression');
  if (judged.length === 0) return 'absent';
  return judged.some(({ result }) => result === 'not-met') ? 'not-met' : judged[0]!.result;
}

const inches = (value: number) => ({ value, unit: 'in' });

describe('limits that are published', () => {
  // FMVSS 116, 49 CFR 571.116 S5.1.1 and S5.1.2 (quoted in public sources)
  it.each([
    ['DOT 3', 'dot-3', 205, 140],
    ['DOT 4', 'dot-4', 230, 155],
    ['DOT 5', 'dot-5-and-5-1', 260, 180],
    ['DOT 5.1', 'dot-5-and-5-1', 260, 180],
  ])('%s boiling points', (fluid, slug, dry, wet) => {
    for (const [step, value] of [
      ['dry', dry],
      ['wet', wet],
    ] as const) {
      const say = (temperature: number) =>
        judge(`brake-fluid-label-${slug}-${step}`, {
          'brake-fluid.class': fluid,
          [`brake-fluid.${step}-boiling-point`]: temperature,
        });
      expect([say(value), say(value - 1)]).toEqual(['met', 'not-met']);
    }
  });

  it('reads a label in °F: the DOT 4 wet minimum is 311 °F', () => {
    const say = (value: number) =>
      judge('brake-fluid-label-dot-4-wet', {
        'brake-fluid.class': 'DOT 4',
        'brake-fluid.wet-boiling-point': { value, unit: '°F' },
      });
    expect([say(311), say(309)]).toEqual(['met', 'not-met']);
  });

  // UK MOT inspection manual 3.5 (2012): pads below 1.5 mm; section 5: tread 1.6 mm
  it('pads 1.5 mm, tread 1.6 mm', () => {
    const pad = (mm: number) => judge('pad-thickness-road-limit', { 'pad.thickness': { 'FL.in': mm } });
    const tread = (mm: number) => judge('tyre-tread', { 'tyre.tread': { 'RR.outer': mm } });
    // on the limit a reading with a pad gauge (U 0.6 mm) or a tread gauge (U 0.2 mm) may be either: the line measures
    expect([pad(1.4), pad(1.5), pad(2), pad(2.1)]).toEqual(['not-met', 'unanswerable', 'unanswerable', 'met']);
    expect([tread(1.5), tread(1.6), tread(1.7), tread(1.8)]).toEqual([
      'not-met',
      'unanswerable',
      'unanswerable',
      'met',
    ]);
  });

  // 49 CFR 570.7(a) table 1: 2, 2 1/4, 2 1/2, 2 3/4 in at 16, 18, 20, 22 in
  it.each([
    [16, 2],
    [18, 2.25],
    [20, 2.5],
    [22, 2.75],
  ])('steering wheel of %d in: lash %d in', (diameter, lash) => {
    const vehicle = { steering: 'box' } as const;
    const say = (play: number) =>
      judge(
        'steering-free-play',
        { 'steering.free-play': { play: inches(play), wheelDiameter: inches(diameter) } },
        { vehicle },
      );
    expect([say(lash), say(lash + 0.01)]).toEqual(['met', 'not-met']);
  });

  // UK MOT inspection manual 2.2: 13 mm with a rack at a 380 mm wheel, scaled with the wheel
  it('a rack is looked at above 13 mm at a wheel of 380 mm', () => {
    const say = (play: number, wheelDiameter: number) =>
      judge('steering-free-play-rack-look', { 'steering.free-play': { play, wheelDiameter } });
    expect([say(13, 380), say(13.1, 380), say(12, 350), say(12.1, 350)]).toEqual(['met', 'not-met', 'met', 'not-met']);
  });

  // handbook text on studs and nuts (secondary): one diameter in steel, M12×1.5 in 8 turns; M14×1.5 in 9.33 by arithmetic
  it.each([
    [12, 1.5, 8, 7.9],
    [12, 1.25, 9.6, 9.5],
    [14, 1.5, 9.3, 9.2],
    [14, 1.25, 11.2, 11.1],
  ])('M%d×%d holds in %d turns', (wheelStudDiameterMm, wheelThreadPitchMm, enough, short) => {
    const say = (turns: number) =>
      judge(
        'wheel-thread-engagement',
        { 'wheel.stud-engagement': { turns } },
        { vehicle: { wheelStudDiameterMm, wheelThreadPitchMm } },
      );
    expect([say(enough), say(short)]).toEqual(['met', 'not-met']);
  });

  // 49 CFR 570.7(b): linkage 1/4 in; state rule: wheel bearing 1/8 in; 49 CFR 570.10(b): runout 1/8 in
  it.each([
    ['wheel-play-nine-three-measured', 'wheel-play.nine-three', 0.25],
    ['wheel-play-twelve-six-measured', 'wheel-play.twelve-six', 0.125],
  ])('%s', (rule, item, limit) => {
    const say = (play: number) => judge(rule, { [item]: { FL: { felt: 'felt', mm: inches(play) } } });
    // U of a rule in steps of 1 mm is 0.6 mm: 2 · 0.5 / √3 = 0.58
    expect([say(limit - 0.03), say(limit), say(limit + 0.01)]).toEqual(['met', 'unanswerable', 'not-met']);
  });

  it('wheel runout 3.175 mm', () => {
    const say = (runout: number) => judge('wheel-runout', { 'wheel.bent': { RL: { bent: true, runout } } });
    // U of a dial indicator on a stand is 0.058 mm: 2 · 0.05 / √3
    expect([say(3.117), say(3.175), say(3.176)]).toEqual(['met', 'unanswerable', 'not-met']);
  });

  // 49 CFR 570.59(b): not below the stamped minimum
  it('rotor at its stamped minimum', () => {
    const vehicle = { rotorMinimumThicknessMm: { FL: 22.4 } };
    const say = (mm: number) => judge('rotor-thickness', { 'rotor.thickness': { FL: mm } }, { vehicle });
    // U of a vernier calliper is 0.06 mm: 2 · 0.05 / √3 = 0.058
    expect([say(22.46), say(22.45), say(22.4), say(22.39)]).toEqual(['met', 'unanswerable', 'unanswerable', 'not-met']);
  });

  // UNECE R100 5.1.3.1 and 5.1.3.2; worked: 400 V with 20 kΩ is 50 Ω/V
  it('isolation 100 and 500 Ω/V', () => {
    const direct = (value: number) => judge('hv-isolation', { 'hv.isolation': value });
    const connected = (value: number) => judge('hv-isolation-connected', { 'hv.isolation': value });
    expect([direct(100), direct(99), direct(20_000 / 400)]).toEqual(['met', 'not-met', 'not-met']);
    expect([connected(500), connected(499)]).toEqual(['met', 'not-met']);
  });

  // SAE J300, January 2015: the grades; a winter grade of 25W needs 9.3 mm²/s at 100 °C, so that no hot 20 goes with it
  it.each([
    ['0W-8', 'met'],
    ['15W-50', 'met'],
    ['25W-30', 'met'],
    ['60', 'met'],
    ['25W-20', 'not-met'],
    ['17W-50', 'not-met'],
    ['15W-45', 'not-met'],
    ['15W50', 'met'],
  ])('oil grade %s: %s', (grade, result) => {
    expect(judge('oil-grade-form', { 'oil.grade': grade })).toBe(result);
  });
});

describe('drum brakes as published', () => {
  // 49 CFR 570.59(c): bonded linings 1/16 in, riveted ones 1/32 in over the rivet
  it.each([
    ['bonded', 'lining-thickness-bonded', 1 / 16],
    ['riveted', 'lining-thickness-riveted', 1 / 32],
  ] as const)('%s linings', (kind, rule, least) => {
    const vehicle = { lining: { rear: kind } };
    const say = (given: object) => judge(rule, { 'lining.thickness': { RL: given } }, { vehicle });
    // on the limit a reading with a pad gauge (U 0.6 mm) may be either: the line measures
    const said = [say(inches(least - 0.01)), say(inches(least)), say(inches(least + 0.6 / 25.4))];
    expect(said).toEqual(['not-met', 'unanswerable', 'met']);
  });

  // 49 CFR 570.59(b): within the diameter that is embossed in the drum
  it('a drum', () => {
    const vehicle = { drumMaximumDiameterMm: { RL: 229.8 } };
    const parameters = { drumMeasured: { value: true } };
    const say = (mm: number) => judge('drum-diameter', { 'drum.diameter': { RL: mm } }, { vehicle, parameters });
    expect([say(229.8), say(229.9)]).toEqual(['met', 'not-met']);
  });
});

describe('leaks that are published', () => {
  // UK MOT inspection manual for cars (2012), sections 3.6 and 7.2: a leak in any part of the braking or fuel system
  it.each(['fuel', 'brake-fluid'])('%s that is damp outside its system', (fluid) => {
    const dry = { 'engine-oil': 'none', fuel: 'none', 'brake-fluid': 'none' };
    const say = (found: string) => judge('engine-leak-fuel-or-brake', { 'engine.leaks': { ...dry, [fluid]: found } });
    expect([say('none'), say('weep')]).toEqual(['met', 'not-met']);
  });

  it('a brake system that leaks, filled up or not', () => {
    const say = (level: string) => judge('brake-fluid-leak', { 'brake-fluid.level': { level, reason: 'leak' } });
    expect([say('ok'), say('low')]).toEqual(['not-met', 'not-met']);
  });
});

describe('label rules that are published', () => {
  const on = (endsOn: string) => ({ endsOn });

  // "not valid after 2020": made January 2015, usable to 2020-12-31
  it('FIA 8853/98 harness of label year 2020', () => {
    const say = (day: string) =>
      judge(
        'harness-label-date',
        { 'harness.standard': 'FIA 8853/98', 'harness.label-date': { 'lap-left': '2020-12-31' } },
        on(day),
      );
    expect([say('2020-12-31'), say('2021-01-01')]).toEqual(['met', 'not-met']);
  });

  // FIA 8855-1999: made January or August 2014, to 2019-12-31
  it.each(['2014-01-01', '2014-08-01'])('FIA 8855-1999 seat made %s', (made) => {
    const say = (day: string) =>
      judge('seat-8855-1999-date', { 'seat.standard': 'FIA 8855-1999', 'seat.made-on': made }, on(day));
    expect([say('2019-12-31'), say('2020-01-01')]).toEqual(['met', 'not-met']);
  });

  // FIA FT3-1999: five years; made 2019-03-10, to 2024-03-10
  it('fuel cell made 2019-03-10', () => {
    const say = (day: string) => judge('fuel-cell-date', { 'fuel-cell.made-on': '2019-03-10' }, on(day));
    expect([say('2024-03-10'), say('2024-03-11')]).toEqual(['met', 'not-met']);
  });

  // FIA Technical List 25 of 2024-12-11
  it.each([
    ['helmet-sa2015-listed', 'Snell SA2015', '2023-12-31', '2024-01-01'],
    ['helmet-sa2010-listed', 'Snell SA2010', '2023-12-31', '2024-01-01'],
    ['helmet-8860-2010-listed', 'FIA 8860-2010', '2028-12-31', '2029-01-01'],
  ])('%s', (rule, standard, last, next) => {
    const parameters = { internationalListApplies: { value: true } };
    const say = (endsOn: string) => judge(rule, { 'helmet.standard': standard }, { endsOn, parameters });
    expect([say(last), say(next)]).toEqual(['met', 'not-met']);
  });

  // UK national rule from 2018: 24 months at most
  it('extinguisher of 24 months', () => {
    const parameters = { extinguisherRequired: { value: true } };
    const say = (day: string) =>
      judge('extinguisher-service', { 'extinguisher.type': 'foam', 'extinguisher.serviced-on': day }, { parameters });
    expect([say('2024-06-14'), say('2024-06-13')]).toEqual(['met', 'not-met']);
  });

  // worked example of a short-track set-up page: 700/600/900/600 lb is 53.57 % cross
  it('cross weight counts the right-front to left-rear diagonal', () => {
    const lb = (value: number) => ({ value, unit: 'lb' });
    const answers = { 'setup.corner-weights': { FL: lb(700), FR: lb(600), RL: lb(900), RR: lb(600) } };
    const upTo = (value: number) => ({ parameters: { crossWeightMaximum: { value } } });
    expect(judge('setup-cross-weight', answers, upTo(0.536))).toBe('met');
    expect(judge('setup-cross-weight', answers, upTo(0.535))).toBe('not-met');
  });
});

describe('the basis of rules', () => {
  it('is published exactly for these', () => {
    const published = ruleSet.rules.filter(({ basis }) => basis.kind === 'published').map(({ id }) => id);
    expect(published.sort()).toEqual([...PUBLISHED].sort());
  });

  it('is not published where a value is from memory', () => {
    const memory = Object.entries(ruleSet.parameters).filter(([, { source }]) => source?.includes('from memory'));
    expect(memory.length).toBeGreaterThan(8);
    for (const [name] of memory) {
      const users = ruleSet.rules.filter((rule) => JSON.stringify(rule).includes(name));
      expect(users.length, name).toBeGreaterThan(0);
      expect(
        users.every(({ basis }) => basis.kind === 'common-practice'),
        name,
      ).toBe(true);
    }
  });
});

const PUBLISHED = [
  'oil-grade-form',
  'brake-fluid-label-dot-3-dry',
  'brake-fluid-label-dot-3-wet',
  'brake-fluid-label-dot-4-dry',
  'brake-fluid-label-dot-4-wet',
  'brake-fluid-label-dot-5-and-5-1-dry',
  'brake-fluid-label-dot-5-and-5-1-wet',
  'brake-fluid-leak',
  'engine-leak-fuel-or-brake',
  'lining-thickness-bonded',
  'lining-thickness-riveted',
  'drum-wheel-cylinder-wet',
  'drum-diameter',
  'brake-pedal-sinks',
  'pad-thickness-road-limit',
  'rotor-thickness',
  'wheel-play-nine-three-measured',
  'wheel-play-twelve-six-measured',
  'steering-free-play',
  'steering-free-play-rack-look',
  'damper-leak',
  'tyre-tread',
  'tyre-tread-lowest',
  'tyre-cords',
  'tyre-cuts-or-bulges',
  'tyre-speed',
  'tyre-speed-look',
  'tyre-load',
  'tyre-load-far',
  'tyre-axle-alike',
  'tyre-axle-load-index',
  'wheel-cracks',
  'wheel-runout',
  'helmet-sa2015-listed',
  'helmet-sa2010-listed',
  'helmet-8860-2010-listed',
  'harness-label-date',
  'harness-8853-98-listed',
  'seat-8855-1999-date',
  'extinguisher-service',
  'extinguisher-service-voluntary',
  'fuel-cell-date',
  'hv-isolation',
  'hv-isolation-connected',
];
