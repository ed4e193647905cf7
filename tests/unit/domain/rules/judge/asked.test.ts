import { describe, expect, it } from 'vitest';
import { checkRuleSet } from '../../../../../src/domain/rules/check/check.ts';
import { listAsked, stillOpen } from '../../../../../src/domain/rules/judge/asked.ts';
import { answersOf, inputOf, makeRule, makeRuleSet } from '../rules-support.ts';

const PEDAL = {
  id: 'pedal',
  items: ['brake.pedal'],
  test: { kind: 'none-of', item: 'brake.pedal', values: ['sinks'] },
};
const asked = (
  rules: Record<string, unknown>[],
  raw: Record<string, unknown> = {},
  { parameters = {}, overrides = {} }: { parameters?: Record<string, unknown>; overrides?: object } = {},
) => {
  const checked = checkRuleSet(makeRuleSet({ rules: rules.map(makeRule), parameters }));
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults));
  return listAsked(checked.compiled, inputOf({ answers: answersOf(raw), ...overrides }));
};
const cells = (...of: Parameters<typeof asked>) => asked(...of).map(({ cell }) => cell);

describe('what a declaration is asked', () => {
  it('is what a rule that bars or asks for a look reads, and nothing that only advice or a watched rule reads', () => {
    expect(cells([PEDAL])).toEqual(['brake.pedal']);
    expect(cells([{ ...PEDAL, effect: 'inspect' }])).toEqual(['brake.pedal']);
    expect(cells([{ ...PEDAL, effect: 'advise' }])).toEqual([]);
    expect(cells([{ ...PEDAL, watch: true }])).toEqual([]);
  });

  it('is what the test reads: items that only become points to check are not asked for', () => {
    const felt = {
      id: 'felt',
      items: ['debrief.symptoms', 'wheel.weights-present'],
      test: { kind: 'none-of', item: 'debrief.symptoms', values: ['vibration'] },
    };
    expect(cells([felt])).toEqual(['debrief.symptoms']);
  });

  it('depends on the switches of the group and on the record of the car', () => {
    const tank = { ...PEDAL, id: 'tank', when: 'params.asked' };
    const parameters = { asked: { value: false, meaning: 'Whether it is asked' } };
    expect(cells([tank], {}, { parameters })).toEqual([]);
    const on = { overrides: { parameters: { asked: { value: true } } } };
    expect(cells([tank], {}, { parameters, ...on })).toEqual(['brake.pedal']);
    const pads = {
      id: 'pads',
      items: ['pad.thickness'],
      test: { kind: 'limit', item: 'pad.thickness', atLeast: { value: 4, unit: 'mm' } },
    };
    const drums = { vehicle: { description: 'Drums behind', rotor: { front: 'iron', rear: 'drum' } } };
    expect(cells([pads], {}, { overrides: drums })).toEqual(
      ['FL.in', 'FL.out', 'FR.in', 'FR.out'].map((at) => `pad.thickness@${at}`),
    );
  });

  it('grows with an answer, and says with which', () => {
    const fluid = {
      id: 'class',
      items: ['brake-fluid.class'],
      test: { kind: 'none-of', item: 'brake-fluid.class', values: ['unknown'] },
    };
    const dry = {
      id: 'dry',
      items: ['brake-fluid.dry-boiling-point', 'brake-fluid.class'],
      when: 'has(brake_fluid.class) && brake_fluid.class == "DOT 4"',
      test: { kind: 'limit', item: 'brake-fluid.dry-boiling-point', atLeast: { value: 230, unit: '°C' } },
    };
    expect(cells([fluid, dry])).toEqual(['brake-fluid.class']);
    expect(cells([fluid, dry], { 'brake-fluid.class': 'DOT 3' })).toEqual(['brake-fluid.class']);
    expect(asked([fluid, dry], { 'brake-fluid.class': 'DOT 4' })).toEqual([
      { key: 'brake-fluid.class', cell: 'brake-fluid.class', because: [] },
      { key: 'brake-fluid.dry-boiling-point', cell: 'brake-fluid.dry-boiling-point', because: ['brake-fluid.class'] },
    ]);
  });

  it('does not grow by what somebody gives of his own accord', () => {
    const pressure = {
      id: 'pressure',
      each: 'wheel',
      items: ['tyre.cold-pressure'],
      when: 'has(tyre.cold_pressure)',
      test: { kind: 'limit', item: 'tyre.cold-pressure', atLeast: { value: 80, unit: 'kPa' } },
    };
    expect(cells([pressure], { 'tyre.cold-pressure': { FL: 200 } })).toEqual([]);
  });

  it('is one value or its details: what was given in detail stands for both', () => {
    const either = {
      id: 'marking',
      each: 'wheel',
      items: ['tyre.axle-marking', 'tyre.rating'],
      test: { kind: 'expression', expr: 'has(tyre.axle_marking.rating) || has(tyre.rating)' },
    };
    // the parts of an answer that must be given with it are asked with it; both axles are one look
    expect(cells([either])).toEqual(['tyre.axle-marking@*#same']);
    const said = { 'tyre.axle-marking': { basis: 'each-place', value: { same: true } } };
    expect(cells([either], said)).toEqual(['tyre.axle-marking@*#same', 'tyre.axle-marking@*#rating']);
    expect(cells([either])).not.toContain('tyre.rating@FL');
  });

  const CORDS = {
    id: 'cords',
    items: ['tyre.cords-visible'],
    test: { kind: 'confirm', item: 'tyre.cords-visible', expect: false },
  };
  it('is one question for a look at all places, and one for each as soon as they are answered by themselves', () => {
    expect(cells([CORDS])).toEqual(['tyre.cords-visible@*']);
    const once = { 'tyre.cords-visible': { basis: 'each-place', value: false, except: { RL: true } } };
    expect(cells([CORDS], once)).toEqual(['tyre.cords-visible@*']);
    expect(stillOpen(asked([CORDS], once), answersOf(once))).toEqual([]);
    const single = { 'tyre.cords-visible': { FL: false } };
    expect(stillOpen(asked([CORDS], single), answersOf(single)).map(({ cell }) => cell)).toEqual(
      ['FR', 'RL', 'RR'].map((at) => `tyre.cords-visible@${at}`),
    );
  });

  it('is the lowest value of an axle where the group asks no more, and each place where it does', () => {
    const pads = {
      id: 'pads',
      items: ['pad.thickness'],
      test: { kind: 'limit', item: 'pad.thickness', atLeast: { parameter: 'least' } },
      when: 'params.lowestIsEnough || !params.lowestIsEnough',
    };
    const parameters = {
      least: { value: 4, unit: 'mm', meaning: 'Least' },
      lowestIsEnough: { value: true, meaning: 'The lowest is asked' },
    };
    expect(cells([pads], {}, { parameters })).toEqual(['pad.thickness@front', 'pad.thickness@rear']);
    const given = { 'pad.thickness': { front: { basis: 'lowest-of-axle', value: 7 } } };
    expect(stillOpen(asked([pads], given, { parameters }), answersOf(given)).map(({ cell }) => cell)).toEqual([
      'pad.thickness@rear',
    ]);
    const each = { overrides: { parameters: { lowestIsEnough: { value: false } } } };
    expect(cells([pads], given, { parameters, ...each })).toHaveLength(8);
  });

  it('leaves out what only the line answers', () => {
    const measured = {
      id: 'measured',
      items: ['brake-fluid.measured-boiling-point'],
      test: { kind: 'limit', item: 'brake-fluid.measured-boiling-point', atLeast: { value: 170, unit: '°C' } },
    };
    expect(cells([measured])).toEqual([]);
  });

  it('is no longer open once it is answered, or said to have no answer', () => {
    const all = asked([PEDAL]);
    expect(stillOpen(all, answersOf({}))).toEqual(all);
    expect(stillOpen(all, answersOf({ 'brake.pedal': 'firm' }))).toEqual([]);
    expect(stillOpen(all, answersOf({ 'brake.pedal': { notSure: true } }))).toEqual([]);
  });
});
