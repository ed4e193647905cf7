import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { RuleSet } from '../../../../../src/domain/rules/model/rule-set.ts';
import { arbFloorCase } from '../loosening-arbitraries.ts';
import { faultsOfLayers, makeBase, padRule, parameter, resolve } from '../resolve-support.ts';
import { makeRule, makeRuleSet } from '../rules-support.ts';

type Json = Record<string, unknown>;

/** The fault that a run group gets for one value of a floor rule's parameter; empty where it is taken. */
function refusalOf(rule: Json, declared: unknown, override: Json): string {
  const resolved = resolve(makeBase([rule], { least: declared }), {}, { parameters: { least: override } });
  if (resolved.ok) return '';
  expect(faultsOfLayers(resolved)).toEqual(['run-group /parameters/least floor-loosened']);
  return resolved.faults[0]?.detail ?? '';
}

const floor = (test: Json, more: Json = {}): Json =>
  makeRule({ id: 'floor', items: [test['item']], test, floor: true, ...more });
const LEAST = { parameter: 'least' };
const PADS = { kind: 'limit', item: 'pad.thickness', atLeast: LEAST };
const TREAD = { kind: 'limit', item: 'tyre.tread', atLeast: LEAST };
const TORQUE = { kind: 'range', item: 'wheel.torque', from: { value: 80 }, to: LEAST };
const OIL = { kind: 'age', item: 'oil.changed-on', atMost: LEAST };
const LABEL = { kind: 'valid-through', item: 'harness.label-date', through: 'event-end', inclusive: true };
const PEDAL = { item: 'brake.pedal', values: LEAST };
const expression = (expr: string): Json => floor({ kind: 'expression', expr }, { items: ['pad.thickness'] });
const SAYS = 'rule "floor" is a floor: it may be tightened here, not loosened, and';

describe('a rule marked floor', () => {
  it.each([
    ['a lower minimum', PADS, parameter(4, 'mm'), { value: 3 }, 'lowering least from 4 mm to 3 mm loosens it'],
    [
      'less than a step of the item',
      PADS,
      parameter(4, 'mm'),
      { value: 3.99 },
      'lowering least from 4 mm to 3.99 mm loosens it',
    ],
    // 2/32 in are 1.5875 mm: 1/32 in is 0.79375 mm, derived from the inch of NIST SP 811
    [
      '2/32 in for 1.6 mm',
      TREAD,
      parameter(1.6, 'mm'),
      { value: 2, unit: '1/32in' },
      'lowering least from 1.6 mm to 2/32 in loosens it',
    ],
    // 100 lbf·ft are 135.58 N·m: NIST SP 811
    [
      'a higher maximum',
      TORQUE,
      parameter(120, 'N·m'),
      { value: 100, unit: 'lbf·ft' },
      'raising least from 120 N·m to 100 lbf·ft loosens it',
    ],
    [
      'a greater age',
      OIL,
      parameter(12, 'month'),
      { value: 2, unit: 'year' },
      'raising least from 12 months to 2 years loosens it',
    ],
    [
      'a longer life',
      { ...LABEL, addYears: LEAST },
      parameter(1, 'year'),
      { value: 5 },
      'raising least from 1 year to 5 years loosens it',
    ],
    [
      'a longer list of what is accepted',
      { kind: 'one-of', ...PEDAL },
      parameter(['firm']),
      { value: ['firm', 'spongy'] },
      'changing least from firm to firm, spongy loosens it: it accepts more',
    ],
    [
      'a shorter list of what is refused',
      { kind: 'none-of', ...PEDAL },
      parameter(['spongy', 'long']),
      { value: ['long'] },
      'changing least from spongy, long to long loosens it: it refuses less',
    ],
  ])('is not loosened by %s', (_, test, declared, override, says) => {
    expect(refusalOf(floor(test), declared, override)).toBe(`${SAYS} ${says}`);
  });

  it.each([
    ['a higher minimum', PADS, parameter(4, 'mm'), { value: 5 }],
    // 1 in is 25.4 mm exactly: NIST SP 811
    ['the same in another unit', PADS, parameter(25.4, 'mm'), { value: 1, unit: 'in' }],
    ['a lower maximum', TORQUE, parameter(120, 'N·m'), { value: 80, unit: 'lbf·ft' }],
    ['a year for 12 months', OIL, parameter(12, 'month'), { value: 1, unit: 'year' }],
    ['a lower age', OIL, parameter(12, 'month'), { value: 6 }],
    ['fewer accepted', { kind: 'one-of', ...PEDAL }, parameter(['firm', 'long']), { value: ['firm'] }],
    ['more refused', { kind: 'none-of', ...PEDAL }, parameter(['long']), { value: ['long', 'spongy'] }],
  ])('may be tightened, or stay as it is, with %s', (_, test, declared, override) => {
    expect(refusalOf(floor(test), declared, override)).toBe('');
  });

  it('compares spreads as differences: 5 °C of spread are 9 °F, not 41 °F', () => {
    const spread = floor({ kind: 'spread', item: 'pad.temperature-range', field: 'low', atMost: LEAST });
    expect(refusalOf(spread, parameter(5, '°C'), { value: 9, unit: '°F' })).toBe('');
    expect(refusalOf(spread, parameter(5, '°C'), { value: 10, unit: '°F' })).toBe(
      `${SAYS} raising least from 5 °C to 10 °F loosens it`,
    );
  });

  it('with an expression that compares an answer with the parameter alone has a direction', () => {
    const say = (expr: string, value: number) => refusalOf(expression(expr), parameter(4, 'mm'), { value });
    expect(say('min(pad.thickness) >= params.least', 5)).toBe('');
    expect(say('min(pad.thickness) >= params.least', 3)).toBe(`${SAYS} lowering least from 4 mm to 3 mm loosens it`);
    expect(say('params.least > spread(pad.thickness)', 3)).toBe('');
    expect(say('params.least > spread(pad.thickness)', 5)).toBe(`${SAYS} raising least from 4 mm to 5 mm loosens it`);
  });

  it.each([
    ['min(pad.thickness) - params.least >= q(1, "mm")'],
    ['min(pad.thickness) >= params.least + q(1, "mm")'],
    ['min(pad.thickness) == params.least'],
    ['min(pad.thickness) - params.least >= params.least'],
    ['min(pad.thickness) >= params.least || max(pad.thickness) > q(9, "mm")'],
    ['!(min(pad.thickness) < params.least)'],
    ['params.least >= q(2, "mm") && min(pad.thickness) >= q(2, "mm")'],
    ['pad.thickness.all(p, pad.thickness[p] >= params.least)'],
  ])('with the expression %s takes no other value: which way it loosens cannot be told', (expr) => {
    const why = 'its expression does more with the parameter than ask for more or less than it';
    for (const value of [3, 5]) {
      expect(refusalOf(expression(expr), parameter(4, 'mm'), { value })).toBe(
        `${SAYS} whether changing least from 4 mm to ${value} mm loosens it cannot be told: ${why}`,
      );
    }
    expect(refusalOf(expression(expr), parameter(4, 'mm'), { value: 4 })).toBe('');
  });

  it('has a condition that may hold for more cars, not for fewer', () => {
    const rule = (when: string) => floor({ kind: 'photo', item: 'pad.thickness', atLeast: 1 }, { when });
    const say = (when: string, value: number) => refusalOf(rule(when), parameter(8, 'mm'), { value });
    expect(say('min(pad.thickness) < params.least', 9)).toBe('');
    expect(say('min(pad.thickness) < params.least', 6)).toBe(
      `${SAYS} lowering least from 8 mm to 6 mm loosens it: it applies to fewer cars`,
    );
    expect(say('min(pad.thickness) >= params.least', 6)).toBe('');
    expect(say('min(pad.thickness) >= params.least', 9)).toBe(
      `${SAYS} raising least from 8 mm to 9 mm loosens it: it applies to fewer cars`,
    );
  });

  it('keeps a switch its condition reads as it is', () => {
    const rule = floor({ kind: 'confirm', item: 'brake.lines' }, { when: 'params.least' });
    expect(refusalOf(rule, parameter(false), { value: true })).toBe(
      `${SAYS} whether changing least from no to yes loosens it cannot be told: its condition reads the parameter`,
    );
    expect(refusalOf(rule, parameter(false), { value: false })).toBe('');
  });

  it('keeps its effect or gets a heavier one, and is not put on watch', () => {
    const base = makeBase([padRule({ effect: 'inspect' })], { padMinimum: parameter(4, 'mm') });
    const say = (change: Json) => {
      const resolved = resolve(base, {}, { effects: { pads: { reason: 'Wanted', ...change } } });
      return resolved.ok ? [] : resolved.faults.map(({ pointer, code, detail }) => `${pointer} ${code} ${detail}`);
    };
    const says = 'rule "pads" is a floor: it may be tightened here, not loosened, and';
    expect(say({ effect: 'advise' })).toEqual([
      `/effects/pads/effect floor-loosened ${says} advise is less than inspect`,
    ]);
    expect(say({ effect: 'bar', watch: true })).toEqual([
      `/effects/pads/watch floor-loosened ${says} on watch it would judge nobody`,
    ]);
    expect(say({ effect: 'bar', watch: false })).toEqual([]);
    expect(say({ effect: 'inspect' })).toEqual([]);
  });

  it('that the rule set has on watch may stay on it, and may judge', () => {
    const base = makeBase([padRule({ watch: true })], { padMinimum: parameter(4, 'mm') });
    const say = (watch: boolean) =>
      faultsOfLayers(resolve(base, {}, { effects: { pads: { watch, effect: 'bar', reason: 'Wanted' } } }));
    expect(say(true)).toEqual([]);
    expect(say(false)).toEqual([]);
  });

  it('stays where an earlier layer has tightened it', () => {
    const base = makeBase([padRule()], { padMinimum: parameter(4, 'mm') });
    const pads = (value: number) => ({ parameters: { padMinimum: { value } } });
    expect(faultsOfLayers(resolve(base, pads(5), pads(6)))).toEqual([]);
    expect(faultsOfLayers(resolve(base, pads(5), pads(4.5)))).toEqual([
      'run-group /parameters/padMinimum floor-loosened',
    ]);
    // what the venue may not do is no excuse for the run group
    expect(faultsOfLayers(resolve(base, pads(3), pads(3.5)))).toEqual([
      'venue /parameters/padMinimum floor-loosened',
      'run-group /parameters/padMinimum floor-loosened',
    ]);
  });

  it('may be added by a venue, and then binds its run groups', () => {
    const base = makeBase([padRule({ floor: undefined })], { padMinimum: parameter(4, 'mm') });
    const venue = { rules: [padRule({ id: 'venue-pads' })] };
    const group = {
      parameters: { padMinimum: { value: 3 } },
      effects: { 'venue-pads': { watch: true, reason: 'No' } },
    };
    expect(faultsOfLayers(resolve(base, venue, group))).toEqual([
      'run-group /parameters/padMinimum floor-loosened',
      'run-group /effects/venue-pads/watch floor-loosened',
    ]);
    expect(faultsOfLayers(resolve(base, {}, { parameters: group.parameters }))).toEqual([]);
  });

  it('is named once for a parameter, and every floor that uses it is named', () => {
    const twice = floor({ kind: 'range', item: 'pad.thickness', from: LEAST, to: LEAST }, { id: 'twice' });
    const base = makeBase([floor(PADS), twice], { least: parameter(4, 'mm') });
    const resolved = resolve(base, {}, { parameters: { least: { value: 3 } } });
    expect(resolved.ok ? [] : resolved.faults.map(({ detail }) => detail.slice(0, 14))).toEqual([
      'rule "floor" i',
      'rule "twice" i',
    ]);
  });
});

describe('floors, whatever the rule, the value and the unit', () => {
  it('are never loosened; the same and a tighter value are always taken', () => {
    const kinds = new Set<string>();
    fc.assert(
      fc.property(arbFloorCase, ({ rule, stated, looser, same, tighter }) => {
        kinds.add(`${String((rule['test'] as Json)['kind'])} ${'when' in rule}`);
        const base = RuleSet.parse(
          makeRuleSet({ rules: [rule], parameters: { least: parameter(stated.value, stated.unit) } }),
        );
        const refused = (value: unknown) => faultsOfLayers(resolve(base, {}, { parameters: { least: value } }));
        expect(refused(looser)).toEqual(['run-group /parameters/least floor-loosened']);
        expect(refused(same)).toEqual([]);
        expect(refused(tighter)).toEqual([]);
      }),
      { numRuns: 1500 },
    );
    expect([...kinds].toSorted()).toEqual(
      'age,expression,limit,none-of,one-of,photo true,range,spread,valid-through'
        .split(',')
        .map((kind) => (kind.includes(' ') ? kind : `${kind} false`)),
    );
  });
});
