import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { parseAnswers } from '../../../../../src/domain/declaration/declaration.ts';
import { tightenedOrAdded } from '../../../../../src/domain/rules/overlay/overlay.ts';
import { compileRuleSet, evaluate } from '../../../../../src/domain/rules/judge/evaluate.ts';
import { COUNTS, type Finding } from '../../../../../src/domain/rules/model/finding.ts';
import { resolveRules } from '../../../../../src/domain/rules/overlay/resolve.ts';
import { RuleSet } from '../../../../../src/domain/rules/model/rule-set.ts';
import { arbRawAnswers, arbVehicle } from '../../../../support/arbitraries.ts';
import { arbFloorCase } from '../loosening-arbitraries.ts';
import { arbChangedRules } from '../resolve-arbitraries.ts';
import { overlay, padRule, parameter } from '../resolve-support.ts';
import { inputOf, makeRule, makeRuleSet } from '../rules-support.ts';

type Json = Record<string, unknown>;

const ruleSet = (rules: Json[], parameters: Json = {}): RuleSet => RuleSet.parse(makeRuleSet({ rules, parameters }));

/** Whether a rule counts as tightened by a change of itself. */
const isTightened = (before: Json, after: Json, was: Json = {}, now: Json = was): boolean =>
  tightenedOrAdded(ruleSet([before], was), ruleSet([after], now)).size > 0;

const rule = (test: Json, more: Json = {}): Json => makeRule({ items: [test['item']], test, ...more });
const pads = (more: Json): Json => rule({ kind: 'limit', item: 'pad.thickness', ...more });
const label = (more: Json): Json =>
  rule({ kind: 'valid-through', item: 'harness.label-date', through: 'event-end', inclusive: true, ...more });
const photo = (atLeast: number): Json => rule({ kind: 'photo', item: 'brake.lines', atLeast });
const confirm = (more: Json = {}): Json => rule({ kind: 'confirm', item: 'brake.lines' }, more);
const age = (value: number, unit: string, more: Json = {}): Json =>
  rule({ kind: 'age', item: 'oil.changed-on', atMost: { value, unit }, ...more });
const worn = (each?: string): Json =>
  rule({ kind: 'expression', expr: 'max(pad.thickness) >= q(4, "mm")' }, { items: ['pad.thickness'], each });
const mm = (value: number) => ({ value, unit: 'mm' });

describe('rules that may judge more strictly than before', () => {
  it.each([
    ['a higher minimum', pads({ atLeast: mm(4) }), pads({ atLeast: mm(5) })],
    ['more instead of at least', pads({ atLeast: mm(4) }), pads({ atLeast: mm(4), strict: true })],
    ['at most instead of at least', pads({ atLeast: mm(4) }), pads({ atMost: mm(4) })],
    ['a limit in place of the record’s', pads({ atLeast: { vehicle: 'massKg' } }), pads({ atLeast: mm(1) })],
    ['a heavier effect', confirm({ effect: 'inspect' }), confirm({ effect: 'bar' })],
    ['an end of watch', confirm({ watch: true }), confirm()],
    ['a condition taken away', confirm({ when: 'has(vehicle.massKg)' }), confirm()],
    // a condition without an answer leaves the rule without one: new conditions are not certain to be looser
    ['a condition', confirm(), confirm({ when: 'has(vehicle.massKg)' })],
    ['another item', confirm(), rule({ kind: 'confirm', item: 'brake.hose-routing' })],
    ['another item to look at', confirm(), confirm({ items: ['brake.lines', 'brake.pedal'] })],
    ['one look per wheel instead of one per car', worn(), worn('wheel')],
    ['more photos', photo(1), photo(2)],
    ['a shorter life', label({ addYears: { value: 5 } }), label({ addMonths: { value: 59 } })],
    ['the last day no longer counted', label({}), label({ inclusive: false })],
    ['the label’s date instead of the end of the year', label({ endOfYear: true }), label({})],
    ['a lower age', age(1, 'year'), age(11, 'month')],
    ['days for months', age(1, 'month'), age(35, 'day')],
    ['another day to count at', age(1, 'year'), age(1, 'year', { at: 'event-start' })],
  ])('include one with %s', (_, before, after) => {
    expect(isTightened(before, after)).toBe(true);
  });

  it.each([
    ['the same', pads({ atLeast: mm(25.4) }), pads({ atLeast: { value: 1, unit: 'in' } })],
    ['a lower minimum', pads({ atLeast: mm(4) }), pads({ atLeast: mm(3.5) })],
    ['at least instead of more', pads({ atLeast: mm(4), strict: true }), pads({ atLeast: mm(4) })],
    ['a lighter effect', confirm({ effect: 'bar' }), confirm({ effect: 'inspect' })],
    ['watch', pads({ atLeast: mm(4) }), { ...pads({ atLeast: mm(9) }), watch: true }],
    ['fewer photos', photo(2), photo(1)],
    ['a longer life', label({ addYears: { value: 5 } }), label({ addMonths: { value: 61 } })],
    ['the last day counted', label({ inclusive: false }), label({})],
    ['the end of the year', label({}), label({ endOfYear: true })],
    ['a year for 12 months', age(12, 'month'), age(1, 'year')],
    [
      'other words, another basis and what decides about exceptions',
      confirm(),
      confirm({
        title: 'Hoses',
        message: 'They leak',
        fix: 'Change them',
        basis: { kind: 'published', source: 'Club rules 4' },
        floor: true,
        safetyCritical: true,
        recall: true,
        concession: 'minor',
      }),
    ],
  ])('leave out one with %s', (_, before, after) => {
    expect(isTightened(before, after)).toBe(false);
  });

  it('look at parameters as they are, and at a number that took the place of one', () => {
    const named = padRule();
    const least = (value: number, unit = 'mm') => ({ padMinimum: parameter(value, unit) });
    expect(isTightened(named, named, least(4), least(5))).toBe(true);
    expect(isTightened(named, named, least(4), least(3))).toBe(false);
    expect(isTightened(named, named, least(25.4), least(1, 'in'))).toBe(false);
    const stated = (value: number) => ({ ...named, test: pads({ atLeast: mm(value) })['test'] });
    expect(isTightened(named, stated(5), least(4), {})).toBe(true);
    expect(isTightened(named, stated(4), least(4), {})).toBe(false);
  });

  it('include new rules that judge, and not those on watch', () => {
    const before = ruleSet([confirm()]);
    const after = ruleSet([confirm(), { ...photo(1), id: 'new' }, { ...photo(1), id: 'tried', watch: true }]);
    expect([...tightenedOrAdded(before, after)]).toEqual(['new']);
    expect([...tightenedOrAdded(after, before)]).toEqual([]);
  });
});

describe('rules that may judge more strictly, whatever the rules', () => {
  it('are named where a limit is tighter, in any unit, and only there', () => {
    fc.assert(
      fc.property(arbFloorCase, (one) => {
        const at = ({ value, unit }: { value: unknown; unit?: string }) => ({ least: parameter(value, unit) });
        // an expression means another thing where its parameter has another unit
        const isTyped = (one.rule['test'] as Json)['kind'] !== 'expression' && !('when' in one.rule);
        fc.pre(isTyped);
        expect(isTightened(one.rule, one.rule, at(one.stated), at(one.looser))).toBe(false);
        expect(isTightened(one.rule, one.rule, at(one.stated), at(one.same))).toBe(false);
        expect(isTightened(one.rule, one.rule, at(one.looser), at(one.stated))).toBe(true);
      }),
      { numRuns: 600 },
    );
  });

  it('are all of which a finding gets heavier', () => {
    const weight = ({ counts }: Finding): number => COUNTS.length - COUNTS.indexOf(counts);
    const arbStage = fc.constantFrom('declaration', 'line');
    const arbCar = arbVehicle().chain((vehicle) => arbRawAnswers(vehicle).map((raw) => ({ vehicle, raw })));
    let compared = 0;
    let tightened = 0;
    fc.assert(
      fc.property(arbChangedRules, arbCar, arbStage, ({ before, parameters, effects }, { vehicle, raw }, stage) => {
        const was = ruleSet(before.rules, before.parameters);
        const resolved = resolveRules(was, [{ from: 'venue', overlay: overlay({ parameters, effects }) }]);
        if (!resolved.ok) throw new Error(JSON.stringify(resolved.faults));
        const parsed = parseAnswers(raw);
        const input = inputOf({ vehicle, answers: parsed.ok ? parsed.answers : new Map(), stage });
        const strict = tightenedOrAdded(was, resolved.ruleSet);
        const earlier = evaluate(compileRuleSet(was), input).findings;
        const later = evaluate(compileRuleSet(resolved.ruleSet), input).findings;
        later.forEach((finding, at) => {
          const one = earlier[at];
          expect(one).toMatchObject({ ruleId: finding.ruleId });
          compared += 1;
          const isHeavier = one === undefined || weight(finding) > weight(one);
          if (isHeavier) tightened += 1;
          expect(isHeavier && !strict.has(finding.ruleId)).toBe(false);
        });
      }),
      { numRuns: 300 },
    );
    expect(compared).toBeGreaterThan(1000);
    expect(tightened).toBeGreaterThan(10);
  });
});
