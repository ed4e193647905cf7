import { describe, expect, it } from 'vitest';
import { compileRuleExpression, noUses } from '../../../../../src/domain/rules/model/rule-scope.ts';
import type { RuleSet } from '../../../../../src/domain/rules/model/rule-set.ts';
import type { PositionScheme } from '../../../../../src/domain/catalogue/item.ts';
import { CAR, judge, judgeOne, makeRule } from '../rules-support.ts';

const RULE_SET: RuleSet = {
  name: 'Under test',
  parameters: {
    padMinimum: { value: 4, unit: 'mm', meaning: 'Least friction material' },
    pressure: { value: 200, unit: 'kPa', meaning: 'A pressure' },
    accepted: { value: ['Snell SA2020', 'Snell SA2019'], meaning: 'Helmets, one of them misspelt' },
    interval: { value: 12, unit: 'month', meaning: 'An interval' },
  },
  rules: [],
  examples: [],
};

const faults = (source: string, each?: PositionScheme): string[] => {
  const compiled = compileRuleExpression(source, RULE_SET, each, noUses());
  return compiled.ok ? [] : compiled.faults.map((fault) => `${fault.code}@${fault.offset}`);
};

describe('static check of expressions', () => {
  it.each([
    ['engine.leaks["fuel"] == "drp"', 'unknown-option@0'],
    ['engine.leaks["fuel"] in ["none", "wep"]', 'unknown-option@0'],
    ['brake.pedal == helmet.standard', 'unknown-option@0'],
    ['helmet.standard in params.accepted', 'unknown-option@0'],
    ['brake.pedal < "firm"', 'type-clash@0'],
    ['pad.thickness["FL.in"] >= params.pressure', 'unit-clash@0'],
    ['pad.thickness["FL.in"] >= 4', 'unit-clash@0'],
    ['pad.thickness["FL.in"] >= q(4, "kPa")', 'unit-clash@0'],
    ['pad.thickness["FL.in"] >= q(4, "mmm")', 'unknown-unit@31'],
    ['pad.thickness["FL.in"] + tyre.cold_pressure["FL"] > q(1, "mm")', 'unit-clash@0'],
    ['pad.thickness["FL.in"] * pad.thickness["FL.out"] > q(1, "mm")', 'unit-clash@0'],
    ['brake_fluid.dry_boiling_point - brake_fluid.wet_boiling_point > q(10, "°C")', 'unit-clash@0'],
    ['pad.thickness["XX"] >= q(4, "mm")', 'unknown-position@14'],
    ['pad.thickness >= q(4, "mm")', 'type-clash@0'],
    ['brake.pedal["FL"] == "firm"', 'unknown-position@0'],
    ['true && pad.thicknes["FL.in"] >= q(4, "mm")', 'unknown-item@8'],
    ['pad.thickness["FL.in"] >= params.padMinimun', 'unknown-parameter@26'],
    ['exhaust.sound_level.loudness > q(1, "dB(A)")', 'unknown-field@0'],
    ['vehicle.weight > q(1, "kg")', 'unknown-name@0'],
    ['round(1.5) > 1.0', 'unknown-function@0'],
    ['position == "FL"', 'unknown-name@0'],
    ['brake.pedal', 'type-clash@0'],
    ['1 + 1.0 == 2.0', 'type-clash@0'],
    ['brake.lines == "yes"', 'type-clash@0'],
    ['brake_fluid.flushed_on > "2026-01-01"', 'type-clash@0'],
    ['brake_fluid.flushed_on > date("2026-02-30")', 'bad-date@30'],
    ['months(brake_fluid.flushed_on, event.endsOn) <= q(12, "day")', 'unit-clash@0'],
    ['atEnd(brake_fluid.flushed_on) <= params.interval', 'unit-clash@0'],
    ['atEnd(pad.thickness["FL.in"]) > q(1, "day")', 'type-clash@0'],
    ['atEnd(brake_fluid.flushed_on, event.endsOn) > q(1, "day")', 'type-clash@0'],
    ['has(pad.thickness)', 'type-clash@0'],
    ['exhaust.sound_level == 1.0', 'type-clash@0'],
    ['brake.pedal ==', 'bad-expression@12'],
    ['facts.age > 1.0', 'unknown-name@0'],
  ])('names the fault of %s', (source, fault) => {
    expect(faults(source)).toEqual([fault]);
  });

  it('names every fault of one expression', () => {
    expect(faults('brake.pedal == "frm" && pad.thicknes > 1 || params.nothing')).toEqual([
      'unknown-option@0',
      'unknown-item@24',
      'unknown-parameter@44',
    ]);
  });

  it.each([
    ['pad.thickness["FL.in"] >= params.padMinimum', undefined],
    ['pad.thickness["in"] >= params.padMinimum && pad.thickness.out >= q(0.2, "inch")', 'wheel'],
    ['tyre.tread.inner >= q(1.6, "mm")', 'wheel'],
    ['tyre.tread >= q(1.6, "mm")', 'wheel-zone'],
    ['pad.temperature_range.high > q(400, "°C") && vehicle.rotor == "iron"', 'wheel'],
    ['months(brake_fluid.flushed_on, event.endsOn) < params.interval', undefined],
    ['atEnd(brake_fluid.flushed_on) <= q(365, "day")', undefined],
    ['oil.level.reading >= 0.5', undefined],
    ['has(eyewear) && eyewear != "none"', undefined],
    ['"FL.in" in pad.thickness', undefined],
    ['exhaust.sound_level.level <= venue.soundLimitDb', undefined],
    ['vehicle.harnessPoints >= 5 || vehicle.restraint == "three-point"', undefined],
    ['tyre.cold_pressure.all(p, tyre.cold_pressure[p] >= q(20, "psi"))', undefined],
    ['min(tyre.cold_pressure) >= q(20, "psi") && position == "front"', 'axle'],
    ['wheel_play.nine_three["FL"].felt == "none"', undefined],
  ] as const)('takes %s per %s', (source, each) => {
    expect(faults(source, each)).toEqual([]);
  });

  it('knows the positions a rule runs over', () => {
    expect(faults('position == "FL"', 'axle')).toEqual(['unknown-option@0']);
  });
});

describe('answers of expressions', () => {
  const car = (expr: string, raw: unknown, items: string[]) =>
    judgeOne({ items, test: { kind: 'expression', expr } }, raw);
  const OIL = ['oil.level.reading', 'oil.level.at-operating-temperature'];

  // the last event day is 29 November 2026, and no 29 February lies in the year before it
  it.each([
    ['2025-11-29', 'met'],
    ['2025-11-28', 'not-met'],
    ['2026-12-01', 'met'],
  ])('atEnd counts the days from %s to the last event day', (date, result) => {
    const finding = car('atEnd(oil.changed_on) <= q(365, "day")', { 'oil.changed-on': date }, ['oil.changed-on']);
    expect(finding.result).toBe(result);
  });

  it.each([
    [
      'oil.level.at_operating_temperature && oil.level.reading > 0.5',
      { 'oil.level.at-operating-temperature': false },
      'not-met',
    ],
    [
      'oil.level.reading > 0.5 && oil.level.at_operating_temperature',
      { 'oil.level.at-operating-temperature': false },
      'not-met',
    ],
    [
      'oil.level.reading > 0.5 || oil.level.at_operating_temperature',
      { 'oil.level.at-operating-temperature': true },
      'met',
    ],
    [
      'oil.level.reading > 0.5 || oil.level.at_operating_temperature',
      { 'oil.level.at-operating-temperature': false },
      'unanswerable',
    ],
    [
      '!(oil.level.reading > 0.5) && oil.level.at_operating_temperature',
      { 'oil.level.at-operating-temperature': true },
      'unanswerable',
    ],
    [
      '!has(oil.level.reading) && oil.level.at_operating_temperature',
      { 'oil.level.at-operating-temperature': true },
      'met',
    ],
    [
      'oil.level.at_operating_temperature ? oil.level.reading > 0.5 : true',
      { 'oil.level.at-operating-temperature': false },
      'met',
    ],
    [
      'oil.level.at_operating_temperature && oil.level.reading / (oil.level.reading - oil.level.reading) > 1.0',
      { 'oil.level.at-operating-temperature': true, 'oil.level.reading': 1 },
      'unanswerable',
    ],
  ])('judges %s with %j: %s', (expr, raw, result) => {
    expect(car(expr, raw, OIL)).toMatchObject({ result });
  });

  it('shows reading, limit and margin of a comparison, and rounds as the item does', () => {
    const rule = makeRule({
      items: ['pad.thickness'],
      each: 'wheel-side',
      test: { kind: 'expression', expr: 'q(0.1575, "in") <= pad.thickness' },
    });
    const { findings } = judge([rule], { 'pad.thickness': { 'FL.in': 4, 'FL.out': 3.9 } });
    expect(findings[0]).toMatchObject({
      position: 'FL.in',
      result: 'met',
      measured: { value: 4, unit: 'mm' },
      limit: '≥ 4 mm',
      margin: { value: 0 },
    });
    expect(findings[1]).toMatchObject({ result: 'not-met', margin: { value: -0.1, unit: 'mm' } });
  });

  it('goes over the positions the car has: a missing one leaves all() without an answer', () => {
    const rule = {
      items: ['rotor.thickness'],
      test: { kind: 'expression', expr: 'rotor.thickness.all(p, rotor.thickness[p] >= q(20, "mm"))' },
    };
    const vehicle = { ...CAR, rotor: { front: 'iron', rear: 'carbon' } as const };
    expect(judgeOne(rule, { 'rotor.thickness': { FL: 22, FR: 22 } }, { vehicle })).toMatchObject({ result: 'met' });
    expect(judgeOne(rule, { 'rotor.thickness': { FL: 22 } }, { vehicle })).toMatchObject({
      result: 'unanswerable',
      message: expect.stringContaining('at FR'),
    });
    expect(judgeOne(rule, { 'rotor.thickness': { FL: 2 } }, { vehicle })).toMatchObject({ result: 'not-met' });
  });

  it('compares the torque with the car’s own specification, and lacks an answer without one', () => {
    const rule = makeRule({
      items: ['wheel.torque'],
      each: 'wheel',
      test: { kind: 'expression', expr: 'abs(wheel.torque - vehicle.wheelNutTorqueNm) <= q(5, "Nm")' },
    });
    const raw = { 'wheel.torque': { FL: 120, FR: 126, RL: 115, RR: 114 } };
    const results = judge([rule], raw, { vehicle: { ...CAR, wheelNutTorqueNm: 120 } }).findings.map(
      ({ result }) => result,
    );
    expect(results).toEqual(['met', 'not-met', 'met', 'not-met']);
    expect(judge([rule], raw).findings[0]?.message).toBe('The vehicle record has no wheelNutTorqueNm');
  });

  it('sums in decimals: 0.1 mm and 0.2 mm are 0.3 mm in items kept in tenths', () => {
    const expr = 'bushing.play["subframe"] + bushing.play["front-upper-arm"] == q(0.3, "mm")';
    const rule = { items: ['bushing.play'], test: { kind: 'expression', expr } };
    expect(judgeOne(rule, { 'bushing.play': { subframe: 0.1, 'front-upper-arm': 0.2 } })).toMatchObject({
      result: 'met',
    });
  });
});
